"""Intervals from a few readings: quantiles of Student's t, and a scatter that leans on what is usual where readings are few."""

from functools import cache

from server.physics.tails import t_quantile

SHARE68, SHARE95 = 0.68, 0.95
ONE_SIDED95 = 1.645  # normal score below which 95 of 100 lie


def t_half_width(share: float, dof: float) -> float:
    """Half-width, in standard errors, that holds `share` of Student's t with dof > 0 degrees of freedom (any real number); good to 1e-8."""
    return t_quantile(0.5 + 0.5 * share, dof)


@cache
def t_of_half_widths(ratio: float) -> float:
    """Degrees of freedom, 1 to 200, of Student's t whose half-widths for 95 and 68 of 100 have this ratio; the nearest end beyond."""
    low, high = 1.0, 200.0
    for _ in range(30):
        middle = (low * high) ** 0.5
        is_wide = t_half_width(SHARE95, middle) / t_half_width(SHARE68, middle) > ratio
        low, high = (middle, high) if is_wide else (low, middle)
    return (low * high) ** 0.5


def leaning_variance(squares: float, dof: int, usual_variance: float, usual_dof: float) -> tuple[float, float]:
    """(variance, degrees of freedom) from a sum of squares over dof, as if usual_dof more had shown the usual variance.

    So three readings that agree by luck do not promise what three readings cannot, and many speak for themselves.
    """
    return (squares + usual_dof * usual_variance) / (dof + usual_dof), dof + usual_dof


def half_widths(standard_error: float, dof: float) -> tuple[float, float]:
    """Half-widths that hold 68 and 95 of 100, in the unit of the standard error."""
    return standard_error * t_half_width(SHARE68, dof), standard_error * t_half_width(SHARE95, dof)
