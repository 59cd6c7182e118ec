"""Pure: trials -> sentences, medians and table rows. Statistics only, no physics. Times in s."""

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from statistics import median

from server.trial.timing import STAGES, Trial

STAGE_WORDS = {"kiln_out": "Out of the kiln", "flame_in": "Into the flame", "sagged": "Sagged", "round": "Round", "flame_out": "Out of the flame", "glow_gone": "Glow gone"}
STATUS_WORDS = {
    "ready": "not started",
    "running": "running",
    "done": "finished, not kept yet",
    "kept": "kept",
    "abandoned": "stopped",
    "incomplete": "entries still missing",
    "covered": "covered until its blind session is closed",
}
REASON_WORDS = {"cracked": "cracked", "fell_off": "fell off", "torch_changed": "torch changed", "missed_press": "missed a press", "other": "other reason"}
CORRECTION_WORDS = {"late": "pressed late", "early": "pressed early", "slip": "pressed by a slip", "other": "other reason"}
FLAG_WORDS = {
    "screen_slept": "the screen slept in between",
    "clock_set": "the tablet's clock was set in between",
    "across_reload": "the page was loaded anew in between",
    "clock_set_back": "the tablet's clock was set back, so the time is not known",
    "corrected": "a press was corrected afterwards",
    "out_of_order": "presses out of order",
}
LANES = {"sag": "sags after", "round": "is round after", "glow": "loses its glow"}
CSV_COLUMNS = (
    "trial_id,glass_key,glass_name,piece,consent,keeper,mass_g,preheat_c,torch,operator,started_utc,"
    "sag_s,round_s,out_s,glow_s,status,reason,flags,note,device,session,run,code,handling_s,checked,corrections"
).split(",")


@dataclass(frozen=True)
class Lane:
    """One stage over several trials: median and range in s of the times that count, and how many do."""

    key: str
    median_s: float
    low_s: float
    high_s: float
    count: int


def seconds(value: float | None) -> str:
    """A time to a tenth of a second; an en dash where there is none."""
    return "–" if value is None else f"{value:.1f}"


def mandrel(trial: Trial) -> str:
    """The trial's stages for <mandrel-line>: five fields, empty = to come, else the time under the bead."""
    spans = {"sagged": "sag", "round": "round", "flame_out": "out", "glow_gone": "glow"}
    texts = []
    for stage in STAGES:
        span = trial.spans.get(spans.get(stage, ""))
        texts.append("" if stage not in trial.presses else "0" if stage == "flame_in" else seconds(span.seconds if span else None))
    return "|".join(texts)


def status_words(trial: Trial) -> str:
    """How the trial stands, in words, with the reason where it was stopped."""
    reason = f": {REASON_WORDS[trial.reason]}" if trial.reason else ""
    return STATUS_WORDS[trial.status] + reason


def why_left_out(trial: Trial, lane: str, own_piece: str | None = None) -> str | None:
    """Why this trial's time does not count in the median of a lane; None where it counts.

    own_piece: the piece whose own median it is; in the median of a glass, pieces of finds taken for it do not count.
    """
    if trial.status != "kept":
        return status_words(trial)
    if "out_of_order" in trial.flags:
        return FLAG_WORDS["out_of_order"]
    if trial.setup["piece"] not in (None, own_piece):
        return "a piece of a find, taken for this glass"
    span = trial.spans.get(lane)
    if span is None:
        return "no time"
    if said := dict(trial.left_out).get(lane):
        return f"left out by hand: {said}"
    if span.seconds is None:
        return FLAG_WORDS["clock_set_back"]
    return None if span.seconds > 0 else "no time passed between its presses"


def remarks(trial: Trial) -> str:
    """What was odd about the clocks of a trial whose times count all the same: the better clock was taken."""
    return "; ".join(FLAG_WORDS[flag] for flag in trial.flags)


def lane_of(trials: Iterable[Trial], key: str, own_piece: str | None = None) -> Lane | None:
    """Median and range of the times that count; None when none does."""
    times = [t.spans[key].seconds for t in trials if why_left_out(t, key, own_piece) is None]
    return Lane(key, median(times), min(times), max(times), len(times)) if times else None


def lanes_of(trials: list[Trial], own_piece: str | None = None) -> dict[str, Lane | None]:
    """The three lanes of a glass, or of a piece."""
    return {key: lane_of(trials, key, own_piece) for key in LANES}


def _lane_sentence(lane: Lane) -> str:
    after = " out of the flame" if lane.key == "glow" else ""
    if lane.key == "glow":
        words = f"loses its glow {seconds(lane.median_s)} s{after}"
    else:
        words = f"{LANES[lane.key]} {seconds(lane.median_s)} s"
    if lane.count == 1:
        return f"{words} (one trial)"
    return f"{words} (median of {lane.count} trials, {seconds(lane.low_s)} to {seconds(lane.high_s)})"


def profile_sentence(name: str, lanes: dict[str, Lane | None]) -> str:
    """What one bead maker would tell another about this glass."""
    said = [_lane_sentence(lane) for lane in lanes.values() if lane]
    if not said:
        return f"No kept trial of {name} counts yet: the times below stand alone."
    return f"{name} {', '.join(said[:-1]) + ' and ' if said[1:] else ''}{said[-1]}."


def count_sentence(trials: list[Trial]) -> str:
    """How many trials there are and how they stand."""
    if not trials:
        return "No trial has arrived yet."
    told = [f"{sum(t.status == key for t in trials)} {words}" for key, words in STATUS_WORDS.items() if any(t.status == key for t in trials)]
    return f"{len(trials)} trial{'s' if len(trials) != 1 else ''}: {', '.join(told)}."


def utc(ms: float | None) -> str:
    """Epoch ms as ISO 8601 UTC to the ms; empty for nothing."""
    if ms is None:
        return ""
    return datetime.fromtimestamp(round(ms) / 1000, UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def harmless(text: str) -> str:
    """A cell that no spreadsheet runs as a formula."""
    return f"'{text}" if text.lstrip()[:1] in ("=", "+", "-", "@") or text[:1] in ("\t", "\r") else text


def corrections(trial: Trial) -> list[str]:
    """What was corrected: 'Round 1.5 s sooner: pressed late'."""
    return [f"{STAGE_WORDS[stage]} {abs(shift_ms) / 1000:.1f} s {'sooner' if shift_ms < 0 else 'later'}: {CORRECTION_WORDS[reason]}" for stage, shift_ms, reason in trial.corrections]


def csv_row(trial: Trial) -> list:
    """One trial in the order of CSV_COLUMNS."""
    setup = trial.setup or {}
    text = [harmless(str(setup.get(key) or "")) for key in ("glass_key", "glass_name", "piece")]
    agreed = {True: "yes", False: "no", None: ""}[setup.get("consent")]
    who = [harmless(str(setup.get(key) or "")) for key in ("torch", "operator")]
    spans = [trial.spans.get(key) for key in ("sag", "round", "out", "glow", "handling")]
    times = ["" if s is None or s.seconds is None else f"{s.seconds:.3f}" for s in spans]
    return [
        trial.id, *text, agreed, harmless(str(setup.get("keeper") or "")), setup.get("mass_g", ""), setup.get("preheat_c", ""), *who,
        utc(trial.started_ms), *times[:4], trial.status, trial.reason or "", " ".join(trial.flags), harmless(" / ".join(trial.notes)), trial.device,
        setup.get("session") or "", "" if setup.get("run") is None else setup["run"] + 1, harmless(setup.get("code", "")), times[4],
        " ".join(setup.get("checked", ())), "; ".join(corrections(trial)),
    ]  # fmt: skip


class _Line:
    """Takes what csv writes and gives it back."""

    def write(self, text: str) -> str:
        return text


def as_line(row: Iterable) -> str:
    """A row as one line of CSV (RFC 4180)."""
    return csv.writer(_Line(), lineterminator="\r\n").writerow(row)


def csv_heading() -> str:
    """The first line of trials.csv."""
    return as_line(CSV_COLUMNS)


def csv_line(trial: Trial) -> str:
    """The line of one trial."""
    return as_line(csv_row(trial))
