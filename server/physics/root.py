"""Where a function of one number passes nothing, between two ends at which its signs differ."""

from collections.abc import Callable

MOST_STEPS, CLOSE = 100, 1e-12


def crossing(of: Callable[[float], float], low: float, high: float) -> float:
    """The place, to 1e-12 (or the closest end where the signs are the same), by the Illinois rule (M. Dowell and P. Jarratt, BIT 11 (1971) 168-174)."""
    (other, at_other), (here, at_here) = (low, of(low)), (high, of(high))
    if at_other * at_here > 0:
        return other if abs(at_other) <= abs(at_here) else here
    for _ in range(MOST_STEPS):
        if at_here == 0.0 or at_other == at_here or abs(here - other) < CLOSE:
            break
        following = here - at_here * (here - other) / (at_here - at_other)
        at_following = of(following)
        if at_following * at_here < 0:
            other, at_other = here, at_here
        else:
            at_other /= 2.0
        is_close = abs(following - here) < CLOSE
        here, at_here = following, at_following
        if is_close:
            break
    return here
