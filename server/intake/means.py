"""Rows that belong together: means, their spreads, and repeats.

The rule. Rows are averaged only when they bear exactly the same label (trimmed, small and capital letters alike) under the same line of words; what
a column of spot or repeat numbers says does not part them. A common stem (MF-1, MF-2) joins nothing, and neither does a blank label.
A row that says mean is the mean of the rows above it: of those that its own name names, if its figures lie among theirs; else of the last ones whose
mean it is; else, where it bears no name, of all since the last statistics under its line of words. It is a glass of its own, but a spare one while its rows are here as glasses; over repeats of one label it stands for them. A row that says
s.d., 2σ or RSD gives the ± of the mean right before or after it, or of the one row above it where there is no mean; it is never a glass.
Rows of n give the count; minima, maxima, medians and limits are shown and left alone.
"""

from dataclasses import replace
from decimal import Decimal
from statistics import mean, stdev

import numpy as np

from server.intake.labels import SPREADS, folded, names
from server.intake.rows import WITHIN, Figure, Row, plain_text, with_spread
from server.physics.composition import LARGEST, parse_number

STATISTICS = ("mean", "limit", *SPREADS)


def brought_together(rows: list[Row], repeats: str) -> list[Row]:
    """The rows with means, spreads and repeats joined by the rule above. repeats: 'mean', or 'each' to leave rows with one label apart."""
    since: list[Row] = []
    block: list[Row] = []
    for row in [*rows, None]:
        if row and row.kind in STATISTICS:
            block.append(row)
            continue
        if block:
            _settle(block, since, repeats)
            since, block = [], []
        if row and row.kind == "single":
            since.append(row)
    return _grouped(rows) if repeats == "mean" else rows


def _settle(block: list[Row], since: list[Row], repeats: str) -> None:
    """One run of statistics rows below the rows since the last one."""
    means = [row for row in block if row.kind == "mean"]
    for i, row in enumerate(means):
        _name(row, _behind(row, since, is_first=i == 0), repeats)
    order = [row for row in block if row.kind in ("mean", *SPREADS)]
    is_spread_first = bool(means) and order[0] is not means[0]
    for place, row in enumerate(order):
        if row.kind not in SPREADS:
            continue
        target = _target(row, order, place, since, is_spread_first)
        row.problem = f"its figures are the {'count' if row.kind == 'count' else '±'} of {row.where} {target.line}" if target else "a spread without a mean beside it, taken for none"
        if target:
            _apply(row, target)


def _target(row: Row, order: list[Row], place: int, since: list[Row], is_spread_first: bool) -> Row | None:
    """The mean that a spread belongs to: its namesake, the one before it, the one after it; else the single row above."""
    namesakes = [m for m in order if m.kind == "mean" and row.rest and folded(m.rest) == folded(row.rest)]
    before = [m for m in reversed(order[:place]) if m.kind == "mean"]
    after = [m for m in order[place:] if m.kind == "mean"]
    for found in (namesakes, *((after, before) if is_spread_first else (before, after))):
        if found:
            return found[0]
    above = since[-1:] if since and (len(since) == 1 or (since[-1].n or 0) > 1 or folded(row.rest) == folded(since[-1].label)) else []
    return above[0] if above else None


def _behind(row: Row, since: list[Row], is_first: bool) -> list[Row]:
    """The rows that a mean is the mean of."""
    named = [other for other in since if names(row.rest, other.label)]
    if _lies_among(row, named) or not since or not (row.rest or is_first):
        return named
    last = _last_with_mean(row, since)
    return last or ([] if row.rest else [other for other in since if other.section == row.section][-(row.n or 0) :])


def _last_with_mean(row: Row, since: list[Row]) -> list[Row]:
    """The longest run of rows right above whose mean the row is, within rounding; [] for none."""
    main = _main(row)
    if not main:
        return []
    given = np.array([row.value(f.of) for f in main])
    told = np.array([[other.value(f.of) or 0.0 for f in main] for other in reversed(since)])
    means = np.cumsum(told, axis=0) / np.arange(1, len(since) + 1)[:, None]
    fits = np.flatnonzero((np.abs(means - given) <= _rounding(given)).all(axis=1))
    return since[-(int(fits[-1]) + 1) :] if len(fits) else []


def _main(row: Row) -> list[Figure]:
    """The figures of a mean that tell whose it is: those of half a per cent and more, else all."""
    readable = [f for f in row.figures if not f.problem]
    return [f for f in readable if f.unit != "ppm" and (row.value(f.of) or 0) >= 0.5] or [f for f in readable if row.value(f.of)]


def _rounding(given: np.ndarray) -> np.ndarray:
    """How far a printed mean may lie off the mean of printed figures (common practice, no source)."""
    return np.maximum(0.06, 0.015 * given)


def _lies_among(row: Row, named: list[Row]) -> bool:
    """Whether the main figures of a mean lie between the least and the most of the rows that its name names. A mean lies nowhere else."""
    if not named:
        return False
    main = _main(row)
    given = np.array([row.value(f.of) for f in main])
    told = np.array([[other.value(f.of) or 0.0 for f in main] for other in named])
    return bool(((told.min(axis=0) - _rounding(given) <= given) & (given <= told.max(axis=0) + _rounding(given))).all())


def _name(row: Row, parts: list[Row], repeats: str) -> None:
    """What a mean is called, and whether it or its rows are the glass."""
    labels = {folded(part.label) for part in parts}
    is_one = len(labels) == 1 and labels != {""}
    made = parts[0].label if is_one and len(parts) > 1 else row.label if row.rest or not parts else f"Mean of {_told_together(parts)}"
    row.label = made[: WITHIN["name"]]
    row.n = row.n or (len(parts) if len(parts) > 1 else None)
    row.parts = parts
    shared = {key: values.pop() for key in row.facts if len(values := {part.facts[key] for part in parts}) == 1}
    row.facts = {key: value or shared.get(key, "") for key, value in row.facts.items()}
    row.is_spare = bool(parts) and not (is_one and len(parts) > 1 and repeats == "mean")
    for part in parts if not row.is_spare else []:
        part.kind = "part"
        part.words.append(f"one of the repeats behind the mean in {row.where} {row.line}")


def _told_together(parts: list[Row]) -> str:
    """'MF-1 to MF-5'; the line of words above where that names them; their lines where one has no name."""
    first, last = parts[0], parts[-1]
    if len(parts) == 1:
        return first.label or f"{first.where} {first.line}"
    if not all(part.label for part in parts):
        return f"{first.where}s {first.line} to {last.line}"
    return first.heading if first.heading and first.heading == last.heading else f"{first.label} to {last.label}"


def _apply(row: Row, target: Row) -> None:
    if row.kind == "count":
        counts = [float(Decimal(repr(row.value(f.of))).scaleb(-f.power)) for f in row.figures if row.value(f.of)]
        target.n = target.n or next((int(c) for c in counts if c == int(c)), None)
        return
    given = {(f.of, f.unit): f for f in row.figures if not f.problem}
    for i, made in enumerate(target.figures):
        spread = given.get((made.of, made.unit))
        if not spread or made.problem or made.sd is not None:
            continue
        value = parse_number(spread.text, made.of)[0]
        if value:
            share = parse_number(made.text, made.of)[0] / 100 / 10.0**spread.power if row.kind == "rsd" else (0.5 if row.kind == "two_sd" else 1.0)
            target.figures[i] = with_spread(made, value * share, raw=f"{made.raw} ± {spread.raw}{' %' if row.kind == 'rsd' and '%' not in spread.raw else ''}"[:80])


def _grouped(rows: list[Row]) -> list[Row]:
    """One glass of single rows that share a label, placed before them."""
    made: list[Row] = []
    groups: dict[tuple[int, str], list[Row]] = {}
    for row in rows:
        if row.kind == "single" and row.label and not any(f.problem for f in row.figures) and row.figures:
            groups.setdefault((row.section, folded(row.label)), []).append(row)
    first = {id(group[0]): group for group in groups.values() if len(group) > 1}
    for row in rows:
        if group := first.get(id(row)):
            made.append(mean_of(group))
        made.append(row)
    for row in (row for group in first.values() for row in group):
        row.kind = "part"
        row.words.append("one of the repeats behind the mean above")
    return made


def mean_of(group: list[Row]) -> Row:
    """The mean of repeats, with n and the sd of each figure; rows that fill each other's blanks (majors, traces) are no repeats and have no n."""
    keys = dict.fromkeys((f.of, f.unit) for row in group for f in row.figures)
    figures = [_mean_figure([f for row in group for f in row.figures if (f.of, f.unit) == key]) for key in keys]
    most = max((sum((f.of, f.unit) == key for row in group for f in row.figures) for key in keys), default=0)
    facts = {key: next((row.facts[key] for row in group if row.facts[key]), "") for key in group[0].facts}
    facts["note"] = facts["note"] if len({row.facts["note"] for row in group}) == 1 else ""
    row = Row(group[0].line, group[0].label, facts, figures, "mean", n=most if most > 1 else None, parts=group, section=group[0].section, where=group[0].where)
    row.words.append(f"{'mean of ' if most > 1 else ''}{len(group)} rows with exactly this label, {'made' if most > 1 else 'brought together'} here")
    return row


def _mean_figure(found: list[Figure]) -> Figure:
    """Mean and sd of repeats; what is below a limit counts as nothing, and where all are, the largest limit stays."""
    raw = " | ".join(f.raw for f in found)
    raw = raw if len(raw) <= 80 else raw[:79] + "…"
    read = [parse_number(f.text, f.of) for f in found]
    if not any(value for value, _ in read):
        worst = max(range(len(found)), key=lambda i: read[i][1] or 0.0)
        return replace(found[worst], raw=raw, sd=None)
    values = [value for value, _ in read]
    remark = "below the limit in some, counted there as nothing" if any(limit for _, limit in read) else ""
    places = max(-min(Decimal(f"{value:.12g}").as_tuple().exponent, 0) for value in values)
    text = plain_text(Decimal(f"{mean(values):.{places + 1}f}").normalize())
    if mean(values) > LARGEST[found[0].unit]:
        text = found[0].text
    return replace(found[0], text=text[:24], raw=raw, sd=float(f"{stdev(values):.4g}") if len(values) > 1 else None, remark=remark)
