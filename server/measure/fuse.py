"""Pure: a fuse test in words: chips of one firing, which glass softened sooner and how many times as stiff the others are."""

from dataclasses import dataclass
from math import exp

import numpy as np

from server.measure import saying as say
from server.measure.board import Square, squares
from server.measure.saying import Asked
from server.measure.shape import Result
from server.physics import slump as law
from server.physics.shift import common_curve, shift_k, shift_with_u, slope_per_k
from server.physics.table import table
from server.web.page import number

AXIS = "Viscosity ÷ viscosity of the known glass"
LEAST_ABOVE_K = 250  # no glass slumps nearer to its curve's end; below, the slope would only frighten
OFF_K = 25  # a firing that the known glass tells so far from the controller is worth saying (judgement)
STATES = {"little": "hardly moved", "far": "all but flat", "flat": "began no higher than it rests"}
DID = {"little": "hardly moved", "far": "went all but flat", "flat": "began no higher than it rests"}


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
    board = Board(found, str(asked.setup.get("reference", "A")), asked.set_number("peak_c", 760.0))
    rows = [(f"Square {s.place}, {asked.called(s.letter)}", _square_words(s)) for s in found]
    others = sorted({s.letter for s in found} - {board.reference})
    ready = [x for x in others if board.usable(x)]
    if missing:
        cautions.append(f"Not counted yet: {'; '.join(missing)}.")
    advice = _heat_advice(asked, board)
    sources = (table("slump")["model"],)
    if not board.usable(board.reference) or not ready:
        why = _why_not(asked, board, others, missing)
        return Result(_order(asked) or why, tuple(rows), why, tuple(cautions), tuple(advice), (), "", "", False, sources)
    return _compared(asked, board, ready, (rows, cautions, advice, sources))


def _square_words(s: Square) -> str:
    share = "" if not np.isfinite(s.fraction) else f"{number(100 * min(max(s.fraction, 0.0), 1.0))} % of its possible drop"
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
    if not others:
        return "Only the known glass is measured so far."
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


def _compared(asked: Asked, board: Board, ready: list[str], so_far: tuple) -> Result:
    """Ratios to the known glass."""
    rows, cautions, advice, sources = so_far
    used = [s for x in (board.reference, *ready) for s in board.usable(x)]
    made = law.doses(_chips(asked, used))
    curve = asked.curve(board.reference)
    vft, curve_u = curve if curve else (common_curve(), table("shift")["common_u_k"]["value"])
    slope = float(slope_per_k(max(board.peak_c, vft["t0_c"] + LEAST_ABOVE_K), vft))
    off = float(np.hypot(table("slump")["peak_u_k"]["value"], curve_u))
    said, lanes, top = [], [], []
    for x in ready:
        ln, u, u95 = law.ln_ratio(made, x, board.reference, slope)
        shift, shift_u = shift_with_u(ln, u, board.peak_c, off, vft)
        if abs(ln) < u95:
            said.append(f"{asked.called(x)} cannot be told from {asked.called(board.reference)}: {say.times(exp(ln))} times as stiff, anywhere from {say.range_words(ln, u95)}")
        else:
            said.append(f"{asked.called(x)} is {say.so_many_times(ln, u)} as stiff as {asked.called(board.reference)}{say.doubt(ln, u)}: about {say.harder(shift)}")
        label = f"{asked.called(x)} ÷ {asked.called(board.reference)}"
        top.append((f"Viscosity, {label}", f"{say.times(exp(ln))} (68 in 100: {say.range_words(ln, u)}; 95 in 100: {say.range_words(ln, u95)}), or {say.harder(shift)}, ± {number(shift_u)} K"))
        lanes.append(say.ratio_lane(label, ln, u, u95))
    check = _kiln(asked, board, made, curve)
    cautions = cautions + check[1] + _left_out(asked, board, ready)
    usual = table("shift")["common_curve"]
    of_curve = f"estimated viscosity curve of {asked.called(board.reference)}" if curve else f"curve of {usual['name']}: {usual['citation']}"
    sources = (*sources, f"The kelvins are read off the {of_curve}.")
    if len(used) < 2 * (1 + len(ready)):
        advice = [*advice, "Lay two chips of every glass in the next firing, on different places: one place of a shelf is some 5 K hotter than another."]
    sentence = f"Fired side by side to {number(board.peak_c)} °C, {'; '.join(said)}."
    return Result(sentence, (*top, *check[0], *rows), None, tuple(cautions), tuple(advice), tuple(lanes), AXIS, "", True, sources)


def _chips(asked: Asked, used: list[Square]) -> law.Chips:
    columns = zip(*((s.volume, s.volume_u_share, s.before, s.after) for s in used), strict=True)
    angle = asked.set_number("contact_angle_deg", table("slump")["contact_angle_deg"]["value"])
    return law.Chips(tuple(s.letter for s in used), *(np.array(c) for c in columns), table("slump")["reading_sd_mm"]["value"] * 1e-3, angle)


def _kiln(asked: Asked, board: Board, made: law.Doses, curve: tuple | None) -> tuple[list, list]:
    """(rows, cautions): the peak that the known glass itself tells, where its curve is known."""
    hold, rise = asked.set_number("hold_min"), asked.set_number("rise_c_h")
    if curve is None or hold is None or rise is None:
        return [], []
    ours = np.array([x == board.reference for x in made.letters])
    peak = law.peak_of_dose(float(made.ln[ours].mean()), hold * 60.0, rise / 3600.0, curve[0])
    rows = [("Kiln check", f"{asked.called(board.reference)} slumped as its estimate would at a peak of {number(peak)} °C (the curve alone may be off by {number(curve[1])} K)")]
    far = abs(peak - board.peak_c) > max(OFF_K, 2 * curve[1])
    words = f"The known glass tells a peak of {number(peak)} °C, the setup {number(board.peak_c)} °C: look at the thermocouple, or doubt the glass."
    return rows, [f"{words} The ratio itself does not depend on it much."] if far else []


def _left_out(asked: Asked, board: Board, ready: list[str]) -> list[str]:
    """Chips of compared glasses that do not count, and glasses that gave only a direction."""
    odd = [f"{s.place} ({STATES[s.state]})" for x in (board.reference, *ready) for s in board.of(x) if s.state != "usable"]
    found = [f"Left out: square {say.listed(odd)}."] if odd else []
    for x in sorted({s.letter for s in board.squares} - {board.reference, *ready}):
        states = {s.state for s in board.of(x)}
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
        ln = float(np.mean(law.ln_change_to(_chips(asked, off), aim)))
        kelvin = -float(shift_k(-ln, board.peak_c, own[0] if own else common_curve()))
        word = "hotter" if kelvin > 0 else "cooler"
        ways.add(word)
        found.append(f"{say.first_up(asked.called(x))} {DID[off[0].state]}: fire it some {number(5 * max(1, round(abs(kelvin) / 5)))} K {word}, so that it slumps by about four tenths.")
    if len(ways) > 1:
        found.append("No one firing suits them all: compare each with a glass that lies between, in two firings.")
    if any(s.state == "flat" for s in board.squares):
        found.append("Take chips about as high as wide: below some 5 mm a chip of 2 g draws in instead of slumping.")
    return found
