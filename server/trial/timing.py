"""Pure: the entries of one trial -> its times, flags and status. The order of arrival never matters.

An entry is a dict as on the wire: id, kind, subject, n, device, at_ms, body. All stamps are in ms, all results in s.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from server.store.latest import latest

STAGES = ("flame_in", "sagged", "round", "flame_out", "glow_gone")
SPANS = {"sag": ("flame_in", "sagged"), "round": ("flame_in", "round"), "out": ("flame_in", "flame_out"), "glow": ("flame_out", "glow_gone")}
LANES = ("sag", "round", "glow")
COUNTS = ("trial.left_out", "trial.taken_in")  # whether a time counts
DRIFT_MS = 200.0


@dataclass(frozen=True)
class Press:
    """One press: wall and monotonic stamps in ms, as corrected; `page` names the page load whose monotonic clock it was."""

    id: str
    n: int
    stage: str
    wall_ms: float
    mono_ms: float
    page: str
    was_hidden: bool
    shift_ms: float = 0.0


@dataclass(frozen=True)
class Span:
    """Time between two presses in s (None where no clock can say), and what makes it doubtful."""

    seconds: float | None
    flags: tuple[str, ...] = ()


@dataclass(frozen=True)
class Trial:
    """One trial as its entries tell it. `setup` is the body of its latest start, None while that has not arrived."""

    id: str
    status: str
    setup: dict | None
    device: str
    presses: dict[str, Press]
    spans: dict[str, Span]
    flags: tuple[str, ...]
    notes: tuple[str, ...]
    reason: str | None
    taken_back: frozenset[str]
    corrections: tuple[tuple[str, float, str], ...] = ()
    left_out: tuple[tuple[str, str], ...] = ()  # (lane, why) of times that a person said do not count

    @property
    def started_ms(self) -> float | None:
        """Wall time of the press into the flame, epoch ms."""
        press = self.presses.get("flame_in")
        return press.wall_ms if press else None

    @property
    def name(self) -> str:
        """What was heated, as a person would call it."""
        if self.setup is None:
            return "A trial whose start has not arrived"
        return self.setup["piece"] or self.setup["glass_name"]


def elapsed(first: Press, second: Press, was_hidden: bool) -> Span:
    """Time from one press to another. `was_hidden`: the page was out of sight at some moment between them."""
    wall, mono = second.wall_ms - first.wall_ms, second.mono_ms - first.mono_ms
    flags: list[str] = []
    chosen = mono
    if first.page != second.page:
        chosen = wall
        flags.append("across_reload")
    elif abs(wall - mono) > DRIFT_MS:
        slept = wall > mono and was_hidden
        chosen = wall if slept else mono
        flags.append("screen_slept" if slept else "clock_set")
    if first.shift_ms or second.shift_ms:
        flags.append("corrected")
    if chosen < 0:
        return Span(None, (*flags, "clock_set_back"))
    return Span(chosen / 1000, tuple(flags))


def in_order(entries: Iterable[dict]) -> list[dict]:
    """Each entry once, in the order in which the tablet made them."""
    once = {entry["id"]: entry for entry in entries}
    return sorted(once.values(), key=lambda e: (e["n"], e["at_ms"], e["id"]))


def _shift(corrected: dict[tuple[str, str], dict], entry_id: str, stage: str = "") -> float:
    """By how many ms a press was moved; the press at the kiln has its own."""
    found = corrected.get((entry_id, stage))
    return found["shift_ms"] if found else 0.0


def _press(entry: dict, corrected: dict[tuple[str, str], dict]) -> Press:
    body = entry["body"]
    stamp = body["press"] if entry["kind"] == "trial.started" else body
    shift = _shift(corrected, entry["id"])
    return Press(entry["id"], entry["n"], stamp["stage"], stamp["wall_ms"] + shift, stamp["mono_ms"] + shift, stamp["page"], stamp["was_hidden"], shift)


def _kiln(start: dict | None, corrected: dict[tuple[str, str], dict]) -> Press | None:
    """The press as the glass left the kiln, which travels inside the start."""
    stamp = start["body"].get("out_of_kiln") if start else None
    if not stamp:
        return None
    shift = _shift(corrected, start["id"], "kiln_out")
    return Press(start["id"], start["n"], "kiln_out", stamp["wall_ms"] + shift, stamp["mono_ms"] + shift, stamp["page"], stamp["was_hidden"], shift)


def _handling(kiln: Press | None, flame: Press | None) -> Span | None:
    """The way from kiln to flame."""
    return elapsed(kiln, flame, flame.was_hidden) if kiln and flame else None


def _span(presses: dict[str, Press], every: list[Press], start: str, end: str) -> Span | None:
    """Time between two stages; presses taken back in between still tell whether the page was hidden."""
    if start not in presses or end not in presses:
        return None
    first, second = presses[start], presses[end]
    hidden = any(p.was_hidden for p in every if first.n < p.n <= second.n)
    return elapsed(first, second, hidden)


def _status(kinds: set[str], valid: list[Press], is_ordered: bool) -> str:
    """ready, running, done, kept, abandoned, or incomplete (entries missing so far)."""
    if "trial.abandoned" in kinds:
        return "abandoned"
    if "trial.started" not in kinds or not is_ordered:
        return "incomplete"
    if len(valid) == len(STAGES):
        return "kept" if "trial.kept" in kinds else "done"
    if "trial.kept" in kinds:
        return "incomplete"
    return "running" if valid else "ready"


def under_cover(trial: Trial) -> Trial:
    """The trial of a blind session while that runs: the code on its dish, no name and no time."""
    setup = {**trial.setup, "glass_key": None, "glass_name": f"Dish {trial.setup.get('code') or '?'}", "piece": None, "mass_g": "", "preheat_c": None, "torch": "", "operator": None, "keeper": None, "consent": None}
    return replace(trial, status="covered", setup=setup, presses={}, spans={}, flags=(), notes=(), reason=None, corrections=(), left_out=())


def said_of_lanes(entries: Iterable[dict]) -> dict[str, list[dict]]:
    """For each lane of which a person said whether it counts: the latest of these statements, of which the last counts. Said on whatever device, so the wall clock orders."""
    told = [entry for entry in entries if entry["kind"] in COUNTS]
    found = {lane: latest(entry for entry in told if entry["body"]["lane"] in (lane, "all")) for lane in LANES}
    return {lane: statements for lane, statements in found.items() if statements}


def does_count(statement: dict) -> bool:
    """Whether the time counts by this statement."""
    return statement["kind"] == "trial.taken_in"


def _left_out(entries: list[dict]) -> tuple[tuple[str, str], ...]:
    """What a person left out and did not take in again."""
    last = {lane: statements[-1] for lane, statements in said_of_lanes(entries).items()}
    return tuple(sorted((lane, one["body"]["why"]) for lane, one in last.items() if not does_count(one)))


def _reason(corrected: dict[tuple[str, str], dict], press: Press) -> str:
    return corrected[press.id, "kiln_out" if press.stage == "kiln_out" else ""]["reason"]


def trial_from(entries: Iterable[dict]) -> Trial:
    """The trial that these entries (all of one subject, at least one) describe."""
    entries = in_order(entries)
    bodies = {kind: [e["body"] for e in entries if e["kind"] == kind] for kind in {e["kind"] for e in entries}}
    taken_back = frozenset(body["entry"] for body in bodies.get("trial.taken_back", ()))
    corrected = {(body["entry"], body.get("stage", "")): body for body in bodies.get("trial.corrected", ())}
    every = [_press(e, corrected) for e in entries if e["kind"] in ("trial.started", "trial.pressed")]
    valid = [p for p in every if p.id not in taken_back]
    presses: dict[str, Press] = {}
    for press in valid:
        presses.setdefault(press.stage, press)
    start = next((e for e in entries[::-1] if e["kind"] == "trial.started"), None)
    setup, kiln = start["body"] if start else None, _kiln(start, corrected)
    found = {"handling": _handling(kiln, presses.get("flame_in"))} | {name: _span(presses, every, *ends) for name, ends in SPANS.items()}
    spans = {name: span for name, span in found.items() if span}
    is_ordered = [p.stage for p in valid] == list(STAGES[: len(valid)])
    flags = {flag for span in spans.values() for flag in span.flags} | (set() if is_ordered else {"out_of_order"})
    return Trial(
        id=entries[0]["subject"],
        status=_status(set(bodies), valid, is_ordered),
        setup=setup,
        device=entries[0]["device"],
        presses=presses,
        spans=spans,
        flags=tuple(sorted(flags)),
        notes=tuple(body["text"] for body in bodies.get("trial.noted", ())),
        reason=next((body["reason"] for body in bodies.get("trial.abandoned", ())), None),
        taken_back=taken_back,
        corrections=tuple((p.stage, p.shift_ms, _reason(corrected, p)) for p in ([kiln] if kiln else []) + valid if p.shift_ms),
        left_out=_left_out(entries),
    )
