"""Pure: what the repeats of a measured test came to, glass by glass."""

from dataclasses import dataclass
from math import exp, log, sqrt
from statistics import mean, stdev

from server.measure.lanes import plain
from server.measure.shape import Result
from server.physics.few import SHARE95, t_half_width


@dataclass(frozen=True)
class Pooled:
    """One glass: `values` by code in the order of the runs; mean and the ends that hold 95 of 100 (None for a single run), geometric where the value is a ratio."""

    name: str
    is_reference: bool
    values: tuple[tuple[str, float], ...]
    value: float
    low95: float | None
    high95: float | None
    unit: str

    @property
    def words(self) -> str:
        """'1.4 (1.1 to 1.8)'."""
        unit = f" {self.unit}" if self.unit else ""
        return f"{plain(self.value)}{unit}" if self.low95 is None else f"{plain(self.value)}{unit} ({plain(self.low95)} to {plain(self.high95)})"


def pooled(runs: list[tuple[str, str, bool, Result]]) -> list[Pooled]:
    """Glasses in the order in which they came. runs: (code, name, is_reference, what it came to) of each that was kept; those without a number are left out.

    The interval is Student's t on the scatter between the repeats; an error that all of them share is not in it.
    """
    gathered: dict[tuple[str, bool], list[tuple[str, Result]]] = {}
    for code, name, is_reference, made in runs:
        if made.lanes and made.lanes[0].value > (0 if made.is_log else float("-inf")):
            gathered.setdefault((name, is_reference), []).append((code, made))
    return [_one(name, is_reference, found) for (name, is_reference), found in gathered.items()]


def _one(name: str, is_reference: bool, found: list[tuple[str, Result]]) -> Pooled:
    first = found[0][1]
    there, back = (log, exp) if first.is_log else (float, float)
    values = [there(made.lanes[0].value) for _code, made in found]
    middle, count = mean(values), len(values)
    half = t_half_width(SHARE95, count - 1) * stdev(values) / sqrt(count) if count > 1 else None
    ends = (None, None) if half is None else (back(middle - half), back(middle + half))
    return Pooled(name, is_reference, tuple((code, made.lanes[0].value) for code, made in found), back(middle), *ends, first.unit)
