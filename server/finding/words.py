"""Pure: findings in words, and as tables."""

import csv
import io
from collections.abc import Iterator

from server.finding.selection import Group, Summary
from server.trial.results import LANES, as_line, harmless, seconds

BY = {"measured": "as measured", "corrected": "as 2 g would have taken", "steady": "with the torch's drift taken out"}
KINDS = {"": "Glasses and pieces", "glass": "Glasses only", "piece": "Pieces of finds only"}
LANE_WORDS = {"sag": "Sagged", "round": "Round", "glow": "Glow gone"}
CSV_COLUMNS = ("group", "is_piece", "lane", "trial_id", "seconds", "by", "counts", "why_not", "is_far", "session", "torch", "operator", "mass_g", "preheat_c")


def interval(one: Summary | None) -> str:
    """'14.2 (13.1 to 15.4)'; the median, and what holds the geometric mean 95 times in 100."""
    if one is None:
        return "–"
    return seconds(one.median_s) if one.low95_s is None else f"{seconds(one.median_s)} ({seconds(one.low95_s)} to {seconds(one.high95_s)})"


def lead(groups: list[Group]) -> str:
    """The sentence that opens the page."""
    found = [group for group in groups if "sag" in group.lanes]
    if not found:
        return "No kept trial fits what is asked for."
    first, last = found[0], found[-1]
    if first is last:
        return f"{first.label} sags after {seconds(first.lanes['sag'].median_s)} s."
    return f"Softest is {first.label}, which sags after {seconds(first.lanes['sag'].median_s)} s; stiffest {last.label}, after {seconds(last.lanes['sag'].median_s)} s."


def far_ones(groups: list[Group]) -> list[tuple[str, str, float, str]]:
    """(group, lane, s, trial) of every time that is marked as far from the others."""
    return [(group.label, lane, s, trial) for group in groups for lane in LANES if group.far[lane] for s, _why, trial in group.points[lane] if trial in group.far[lane]]


def table(heads: tuple[str, ...], rows: list[tuple]) -> str:
    """A picture's data, comma-separated, with a header; numbers to six figures."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    for row in rows:
        writer.writerow([f"{cell:.6g}" if isinstance(cell, float) else harmless(cell) if isinstance(cell, str) else "" if cell is None else cell for cell in row])
    return out.getvalue()


def csv_lines(groups: list[Group], by: str) -> Iterator[str]:
    """One line a time, comma-separated, after a header."""
    yield as_line(CSV_COLUMNS)
    for group in groups:
        rows = {row.trial: row for row in group.rows}
        for lane in LANES:
            for value, why, trial in group.points[lane]:
                row = rows[trial]
                told = [harmless(text) for text in (row.session, row.torch, row.operator)]
                yield as_line([harmless(group.label), "yes" if group.is_find else "no", lane, trial, f"{value:.3f}", by, "no" if why else "yes", harmless(why), "yes" if trial in group.far[lane] else "no", *told, row.mass_g, row.preheat_c])


def as_csv(groups: list[Group], by: str) -> str:
    """The same as one text, for a picture's data."""
    return "".join(csv_lines(groups, by))
