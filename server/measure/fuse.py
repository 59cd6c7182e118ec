"""Pure: a fuse test in words: chips of one firing, which glass softened sooner and how many times as stiff the others are."""

from dataclasses import dataclass
from math import exp

import numpy as np

from server.measure import saying as say
from server.measure.board import DID, STATES, Square, squares
from server.measure.duplicates import chips, disagree, leanings
from server.measure.foresight import forecast
from server.measure.saying import Asked
from server.measure.shape import Lane, Result
from server.physics import slump as law
from server.physics.shift import common_curve, shift_k, shift_with_u, slope_per_k
from server.physics.table import table
from server.web.page import number

__all__ = ["forecast", "result"]
AXIS = "Viscosity ÷ viscosity of the known glass"
USUAL_PEAK_C = 790.0
LEAST_ABOVE_K = 250  # no glass slumps nearer to its curve's end; below, the slope would only frighten


@dataclass(frozen=True)
class Board:
    """What the firing gives: squares by state, the glass that is known, the heat and the curves to read kelvins off."""

    squares: list[Square]
    reference: str
    peak_c: float

    def of(self, letter: str) -> list[Square]:
        return [s for s in self.squares if s.letter == letter]

    def usable(self, letter: str) -> list[Square]:
        return [s for s in self.of(letter) if s.state == "usable"]


def result(asked: Asked) -> Result:
    """What the board tells so far."""
    found, missing, cautions = squares(asked)
    board = Board(found, str(asked.setup.get("reference", "A")), asked.set_number("peak_c", USUAL_PEAK_C))
    rows = [(f"Square {s.place}, {asked.called(s.letter)}", _square_words(s)) for s in found]
    others = sorted({s.letter for s in found} - {board.reference})
    ready = [x for x in others if board.usable(x)]
    if missing:
        cautions.append(f"Not counted yet: {'; '.join(missing)}.")
    advice = _heat_advice(asked, board)
    if len(found) > 1 and all(s.after > s.before and s.state == "misread" for s in found):
        advice.append("Swap before and after: every chip is read taller after the firing.")
    sources = (table("slump")["model"],)
    if not board.usable(board.reference) or not ready:
        why = _why_not(asked, board, others, missing)
        return Result(_order(asked) or why, tuple(rows), why, tuple(cautions), tuple(advice), (), "", "", False, sources)
    return _compared(asked, board, ready, (rows, cautions, advice, sources))


def _square_words(s: Square) -> str:
    share = "" if not np.isfinite(s.fraction) or s.state == "misread" else f"{number(100 * min(max(s.fraction, 0.0), 1.0))} % of its possible drop"
    state = STATES.get(s.state, "")
    return f"{share}{': ' if share and state else ''}{state}"


def _why_not(asked: Asked, board: Board, others: list[str], missing: list[str]) -> str:
    """The reason why there is no ratio."""
    known = asked.called(board.reference)
    if not board.squares:
        return "No chip is measured before and after the firing yet." if missing else "Nothing is measured yet."
    if not board.of(board.reference):
        return f"No chip of the known glass, {known}, counts yet, so there is nothing to hold the others against."
    if not board.usable(board.reference):
        states = {s.state for s in board.of(board.reference)}
        return f"The known glass, {known}, {say.listed([DID[x] for x in sorted(states)])}: its chip says nothing of the heat."
    if len(asked.glasses) < 2:
        return "A test with one glass can never give a ratio: lay a second glass beside it, one of the two known."
    if not others:
        return "Only the known glass counts so far."
    if all(s.state == "misread" for x in others for s in board.of(x)):
        return f"The chips of {say.listed([asked.called(x) for x in others])} are misread, so there is nothing to compare."
    return f"No chip of {say.listed([asked.called(x) for x in others], 'or')} slumped by an amount that can be read: only between a tenth and eight tenths of the possible drop tells a number."


def _order(asked: Asked) -> str:
    """The order of softness by the look of the edges alone; empty where it tells nothing."""
    ranks = {"sharp": 0, "edges soft": 1, "rounded": 2, "dome": 3, "puddle": 4}
    seen: dict[str, list[int]] = {}
    for place in asked.places():
        letter, word = asked.word(place, "glass"), asked.word(place, "rounding")
        if letter and word in ranks and asked.word(place, "skin") != "matt":
            seen.setdefault(letter, []).append(ranks[word])
    by = sorted(seen, key=lambda x: -float(np.mean(seen[x])))
    if len(by) < 2 or np.mean(seen[by[0]]) == np.mean(seen[by[-1]]):
        return ""
    steps = [asked.called(by[0])]
    for one, other in zip(by, by[1:], strict=False):
        steps.append(f"{'as soft as' if np.mean(seen[one]) == np.mean(seen[other]) else 'softer than'} {asked.called(other)}")
    return f"By the look of the edges {steps[0]} is {', '.join(steps[1:])}; how much, only heights tell."


@dataclass(frozen=True)
class Heat:
    """The peak at which kelvins are read, how far the curve there may be off in K, the curve, and 1/K by which ln of viscosity falls."""

    at_c: float
    off_k: float
    vft: dict
    slope: float
    rows: list[tuple[str, str]]
    cautions: list[str]


def _heat(asked: Asked, board: Board) -> Heat:
    """The heat that the known glass itself tells takes the place of the controller's where the two are far apart."""
    curve, rule = asked.curve(board.reference), table("slump")
    vft, curve_u = curve if curve else (common_curve(), table("shift")["common_u_k"]["value"])
    hold, rise = asked.set_number("hold_min"), asked.set_number("rise_c_h")
    at, rows, cautions, known = board.peak_c, [], [], asked.called(board.reference)
    if hold is not None and rise is not None:
        ln_dose = float(law.doses(chips(asked, board.usable(board.reference))).ln.mean())
        peak = law.peak_of_dose(ln_dose, hold * 60.0, rise / 3600.0, vft)
        if curve:
            rows.append(("Kiln check", f"{known} slumped as its estimate would at a peak of {number(peak)} °C (the curve alone may be off by {number(curve_u)} K)"))
        if abs(peak - at) > max(rule["off"]["least_k"], 2 * curve_u):
            teller = "The known glass" if curve else "The known glass, taken for a common one,"
            cautions.append(f"{teller} tells a peak of {number(peak)} °C, the setup {number(at)} °C: look at the thermocouple, or doubt the glass. The ratio itself does not depend on it much; the kelvins are read at {number(peak)} °C.")
            at = peak
    slope = float(slope_per_k(max(at, vft["t0_c"] + LEAST_ABOVE_K), vft))
    return Heat(at, float(np.hypot(rule["peak_u_k"]["value"], curve_u)), vft, slope, rows, cautions)


def _compared(asked: Asked, board: Board, ready: list[str], so_far: tuple) -> Result:
    """Ratios to the known glass; chips of one glass that disagree give none."""
    rows, cautions, advice, sources = so_far
    heat = _heat(asked, board)
    torn = [x for x in (board.reference, *ready) if disagree(asked, board.of(x), heat.slope)]
    ready = [x for x in ready if x not in torn]
    if board.reference in torn or not ready:
        why = f"The chips of {say.listed([asked.called(x) for x in torn])} disagree by more than reading and kiln explain, so there is no ratio."
        advice = [*advice, "Measure them again; if they stand, look whether one is another glass, holds bubbles, or lay in a draught."]
        return Result(why, (*heat.rows, *rows), why, tuple(cautions), tuple(advice), (), "", "", False, sources)
    cautions = [*cautions, *heat.cautions, *(f"The chips of {asked.called(x)} disagree by more than reading and kiln explain: no ratio for it." for x in torn), *_left_out(asked, board, ready)]
    used = [s for x in (board.reference, *ready) for s in board.usable(x)]
    made = law.doses(chips(asked, used))
    said, lanes, top = zip(*(_ratio(asked, made, (x, board.reference), heat) for x in ready), strict=True)
    usual = table("shift")["common_curve"]
    of_curve = f"estimated viscosity curve of {asked.called(board.reference)}" if asked.curve(board.reference) else f"curve of {usual['name']}: {usual['citation']}"
    sources = (*sources, f"The kelvins are read off the {of_curve}.")
    if len(used) < 2 * (1 + len(ready)):
        advice = [*advice, "Lay two chips of every glass in the next firing, on different places: one place of a shelf is some 5 K hotter than another."]
    sentence = f"Fired side by side to {number(board.peak_c)} °C, {'; '.join(said)}."
    return Result(sentence, (*top, *heat.rows, *rows), None, tuple(cautions), tuple(advice), lanes, AXIS, "", True, sources)


def _ratio(asked: Asked, made: law.Doses, pair: tuple[str, str], heat: Heat) -> tuple[str, Lane, tuple[str, str]]:
    """(what is said, lane, row) of one glass against the known one."""
    x, known = (asked.called(letter) for letter in pair)
    ln, u, u95 = law.ln_ratio(made, *pair, heat.slope)
    (shift, shift_u), (_, shift_u95) = (shift_with_u(ln, half, heat.at_c, times * heat.off_k, heat.vft) for half, times in ((u, 1), (u95, 2)))
    has_kelvins = bool(np.isfinite([shift, shift_u, shift_u95]).all())
    if abs(ln) < u95:
        said = f"{x} cannot be told from {known}: {say.times(exp(ln))} times as stiff, anywhere from {say.range_words(ln, u95)}"
    else:
        said = f"{x} is {say.so_many_times(ln, u)} as stiff as {known}{say.doubt(ln, u)}" + (f": about {say.harder(shift)}" if has_kelvins else "")
    kelvins = f", or {say.harder(shift)}, ± {number(shift_u)} K (95 in 100: ± {number(shift_u95)} K)" if has_kelvins else ""
    row = f"{say.times(exp(ln))} (68 in 100: {say.range_words(ln, u)}; 95 in 100: {say.range_words(ln, u95)}){kelvins}"
    return said, say.ratio_lane(f"{x} ÷ {known}", ln, u, u95), (f"Viscosity, {x} ÷ {known}", row)


def _left_out(asked: Asked, board: Board, ready: list[str]) -> list[str]:
    """Chips of compared glasses that do not count, and glasses that gave only a direction."""
    odd = [f"{s.place} ({STATES[s.state]})" for x in (board.reference, *ready) for s in board.of(x) if s.state != "usable"]
    found = [f"Left out: square {say.listed(odd)}."] if odd else []
    found += [line for x in (board.reference, *ready) for line in leanings(asked, x, board.of(x))]
    for x in sorted({s.letter for s in board.squares} - {board.reference, *ready}):
        states = {s.state for s in board.of(x)} - {"misread"}
        way = {"little": "stiffer", "far": "softer"}.get(next(iter(states))) if len(states) == 1 else None
        if way:
            found.append(f"{say.first_up(asked.called(x))} {DID[next(iter(states))]}: it is {way} than can be read from this firing.")
    return found


def _heat_advice(asked: Asked, board: Board) -> list[str]:
    """How much hotter or cooler to fire each glass whose chips moved too little or too far."""
    aim, found, ways = table("slump")["usable"]["aim"], [], set()
    for x in sorted({s.letter for s in board.squares}):
        off = [s for s in board.of(x) if s.state in ("little", "far")]
        if not off or board.usable(x):
            continue
        own = asked.curve(x) or asked.curve(board.reference)
        ln = float(np.mean(law.ln_change_to(chips(asked, off), aim)))
        kelvin = -float(shift_k(-ln, board.peak_c, own[0] if own else common_curve()))
        word = "hotter" if kelvin > 0 else "cooler"
        ways.add(word)
        found.append(f"{say.first_up(asked.called(x))} {DID[off[0].state]}: fire it some {number(5 * max(1, round(abs(kelvin) / 5)))} K {word}, so that it slumps by about four tenths.")
    if len(ways) > 1:
        found.append("No one firing suits them all: compare each with a glass that lies between, in two firings.")
    if any(s.state == "flat" for s in board.squares):
        found.append("Take chips about as high as wide: below some 5 mm a chip of 2 g draws in instead of slumping.")
    return found
