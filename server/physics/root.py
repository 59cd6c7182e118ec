"""Where a rising function of one number passes nothing."""

from collections.abc import Callable

MOST_STEPS, CLOSE = 100, 1e-12


def crossing(rises: Callable[[float], float], low: float, high: float) -> float:
    """The place, to 1e-12, by the Illinois rule (M. Dowell and P. Jarratt, BIT 11 (1971) 168-174); the end beyond which it lies where it does not lie between them."""
    (other, at_other), (here, at_here) = (low, rises(low)), (high, rises(high))
    if at_other >= 0.0 or at_here <= 0.0:
        return low if at_other >= 0.0 else high
    for _ in range(MOST_STEPS):
        if at_here == 0.0 or at_other == at_here or abs(here - other) < CLOSE:
            break
        following = here - at_here * (here - other) / (at_here - at_other)
        at_following = rises(following)
        if at_following * at_here < 0:
            other, at_other = here, at_here
        else:
            at_other /= 2.0
        is_close = abs(following - here) < CLOSE
        here, at_here = following, at_following
        if is_close:
            break
    return here
