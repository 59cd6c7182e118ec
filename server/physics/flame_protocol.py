"""What must hold for a flame-softening offset, in plain sentences, and what rounding and glow say beside it. Limits: data/flame.json."""

from dataclasses import dataclass

import numpy as np

from server.physics.chance import Z95
from server.physics.offset import Offset, signed_k
from server.physics.table import table


@dataclass(frozen=True)
class FlameTrial:
    """One trial as the offset asks of it; None or "" where nobody wrote it down. Mass in g, preheat in °C."""

    session: str | None
    torch: str
    geometry: str
    mass_g: float | None
    preheat_c: float | None
    colour: str = ""


@dataclass(frozen=True)
class Refusal:
    """Why the protocol does not hold: a stable code and one sentence."""

    code: str
    words: str


@dataclass(frozen=True)
class Flag:
    """What a second reading says beside the offset: True agrees, False is at odds, None can say nothing; and words."""

    key: str
    is_consistent: bool | None
    words: str


def _sets(trials: list[FlameTrial], name: str) -> set:
    """The different values of one text, spaces and case aside."""
    return {" ".join((getattr(trial, name) or "").split()).casefold() for trial in trials}


def _few(trials: list[FlameTrial], who: str) -> list[Refusal]:
    least = table("flame")["offset"]["least_trials"]
    if len(trials) >= least:
        return []
    return [Refusal("few_trials", f"{who} has {len(trials)} trial{'' if len(trials) == 1 else 's'} that count; the offset needs {least} of each.")]


def _other(every: list[FlameTrial]) -> list[Refusal]:
    """Sessions, torches and ways of holding that are not one."""
    found = []
    sessions = _sets(every, "session")
    if "" in sessions:
        found.append(Refusal("no_session", "A trial belongs to no session, so it cannot be shown that all were made under the same conditions."))
    if len(sessions - {""}) > 1:
        found.append(Refusal("other_session", "The trials come from different sessions; torch, canister and eye change from one to the next."))
    for name, code, words in (
        ("torch", "other_torch", "The trials were made with different torches or settings of it"),
        ("geometry", "other_geometry", "The pieces were held in different ways; the sag time changes with the way of holding by far more than with the glass"),
    ):
        texts = _sets(every, name)
        if len(texts) > 1:
            unwritten = " (at least one does not say)" if "" in texts else ""
            found.append(Refusal(code, f"{words}{unwritten}."))
    return found


def _masses(every: list[FlameTrial]) -> list[Refusal]:
    rule, found = table("flame")["mass_g"], []
    weighed = [trial.mass_g for trial in every if trial.mass_g is not None]
    if len(weighed) < len(every):
        n = len(every) - len(weighed)
        found.append(Refusal("not_weighed", f"{n} piece{' was' if n == 1 else 's were'} not weighed, so {'its time' if n == 1 else 'their times'} cannot be corrected for mass."))
    beyond = [mass for mass in weighed if not rule["low"] <= mass <= rule["high"]]
    if beyond:
        told = ", ".join(f"{mass:g}" for mass in sorted(set(beyond)))
        found.append(Refusal("mass", f"A piece of {told} g lies outside {rule['low']:g} to {rule['high']:g} g, for which the offset holds."))
    return found


def _preheats(every: list[FlameTrial]) -> list[Refusal]:
    alike, told = table("flame")["preheat_c"]["alike_k"], [trial.preheat_c for trial in every if trial.preheat_c is not None]
    found = []
    if len(told) < len(every):
        found.append(Refusal("no_preheat", "A trial does not say its preheat."))
    if told and max(told) - min(told) > alike:
        found.append(Refusal("other_preheat", f"The preheat goes from {min(told):g} to {max(told):g} °C; more than {alike} K between trials moves the sag time by more than 5 %."))
    return found


def refusals(reference: list[FlameTrial], unknown: list[FlameTrial]) -> list[Refusal]:
    """Every reason why these trials give no flame-softening offset; empty where the protocol holds."""
    every = [*reference, *unknown]
    return [*_few(reference, "The reference"), *_few(unknown, "The unknown piece"), *_other(every), *_masses(every), *_preheats(every)]


def round_offset_k(round_ratio: float, statistical95_ln: float = 0.0) -> tuple[float, float, float]:
    """(K, low, high) that a ratio of rounding times would mean, at 0.02 per K; the range at 0.015 to 0.03 per K, with its 18 K and 25 %. A flag, never an estimate."""
    rule, ln_ratio = table("flame")["flags"], float(np.log(round_ratio))
    middle = ln_ratio / rule["round_per_k"]
    ends = [(ln_ratio + sign * statistical95_ln) / slope for sign in (-1, 1) for slope in (rule["round_low_per_k"], rule["round_high_per_k"])]
    own = float(np.hypot(statistical95_ln / rule["round_per_k"], Z95 * np.hypot(rule["round_k"], rule["round_share"] * middle)))
    return middle, min(middle - own, *ends), max(middle + own, *ends)


def _round_flag(offset: Offset, round_ratio: float | None, statistical95_ln: float) -> Flag:
    if round_ratio is None:
        return Flag("round", None, "Rounding says nothing here: a piece stalled or was not timed.")
    middle, low, high = round_offset_k(round_ratio, statistical95_ln)
    meets = low <= offset.delta_k + offset.u95_k and offset.delta_k - offset.u95_k <= high
    told = f"rounding alone would mean some {signed_k(middle)} K, anywhere from {signed_k(low)} to {signed_k(high)} K"
    if meets:
        return Flag("round", True, f"Rounding does not speak against the offset: {told}.")
    return Flag("round", False, f"Rounding is at odds with the offset: {told}; the pieces may take up heat differently (colour, opacity).")


def _glow_flag(glow_ratio: float | None) -> Flag:
    rule = table("flame")["flags"]
    if glow_ratio is None:
        return Flag("glow", None, "Glow says nothing here: it was not timed.")
    if rule["glow_low"] <= glow_ratio <= rule["glow_high"]:
        return Flag("glow", True, f"The glow went after {glow_ratio:.2f} times as long as the reference's: alike in size, colour and exit.")
    return Flag("glow", False, f"The glow went after {glow_ratio:.2f} times as long as the reference's, outside {rule['glow_low']} to {rule['glow_high']}: colour, size, light or exit from the flame differ, and the offset is suspect.")


def flags(offset: Offset, round_ratio: float | None, glow_ratio: float | None, round_statistical95_ln: float = 0.0, torch_slope_per_k: float | None = None, colours: tuple[str, str] = ("", "")) -> list[Flag]:
    """What rounding, glow, the torch and the colours say of an offset. Ratios unknown ÷ reference of mass-corrected means, None where there is none.

    round_statistical95_ln : 95 % half-width of ln of the rounding ratio; torch_slope_per_k : forecast.Torch.sag_slope_per_k
    colours                : colour classes of reference and unknown as recorded, "" where nobody did
    """
    rule, found = table("flame")["offset"], [_round_flag(offset, round_ratio, round_statistical95_ln), _glow_flag(glow_ratio)]
    if torch_slope_per_k is not None:
        is_usual = rule["slope_low_per_k"] <= torch_slope_per_k <= rule["slope_high_per_k"]
        told = f"In this flame one kelvin is worth {100 * torch_slope_per_k:.2f} % of the sag time; the offset takes {100 * rule['slope_per_k']:.2f} %"
        found.append(Flag("torch", is_usual, f"{told}." if is_usual else f"{told}, and its ± allows for {100 * rule['slope_low_per_k']:.2f} to {100 * rule['slope_high_per_k']:.2f} %."))
    if all(colours) and colours[0].casefold() != colours[1].casefold():
        found.append(Flag("colour", False, f"Colour differs ({colours[0]} against {colours[1]}): the pieces take up heat differently, which can move the offset by more than 10 K."))
    return found
