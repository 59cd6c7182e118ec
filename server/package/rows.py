"""Pure: tests and sessions -> rows of the package's tables, {column: value}; what nobody said is None. Times in s, clocks in ms."""

from collections.abc import Iterator

from server.measure.kinds import LETTERS, known_tests
from server.measure.log import Measured
from server.package.gather import Book, key_of
from server.package.tables import utc
from server.session.queue import SessionResult
from server.trial.results import corrections
from server.trial.timing import Trial, in_order

SPANS = {"sag_s": "sag", "round_s": "round", "out_s": "out", "glow_s": "glow", "handling_s": "handling"}
DIGITS_S = 6  # a browser tells no finer than 5 µs; beyond it stands what the subtraction of two clock readings leaves
CONDITIONS = ("torch", "nozzle", "fuel", "cylinder", "distance_cm", "holder", "room_c", "light", "operator")
NO_GLASS = {"key": None, "name": None, "piece_id": None, "piece": None}


def moment(stem: str, at_ms: float | None) -> dict:
    """A moment in its two columns."""
    return {f"{stem}_ms": at_ms, f"{stem}_utc": utc(at_ms)}


def _trial(trial: Trial) -> dict:
    setup = trial.setup or {}
    spans = {column: trial.spans.get(key) for column, key in SPANS.items()}
    return {
        "trial_id": trial.id,
        **{name: setup.get(name) for name in ("glass_name", "piece", "piece_id", "consent", "keeper", "mass_g", "preheat_c", "torch", "operator", "code")},
        "glass_key": key_of(setup.get("glass_key")),
        **moment("started", trial.started_ms),
        **{column: None if span is None or span.seconds is None else round(span.seconds, DIGITS_S) for column, span in spans.items()},
        "status": trial.status,
        "reason": trial.reason,
        "flags": " ".join(trial.flags),
        "notes": " / ".join(trial.notes),
        "corrections": "; ".join(corrections(trial)),
        "left_out": "; ".join(f"{lane}: {why}" for lane, why in trial.left_out),
        "checked": " ".join(setup.get("checked", ())),
        "session_id": setup.get("session"),
        "run": None if setup.get("run") is None else setup["run"] + 1,
        "device": trial.device,
    }


def trials(book: Book) -> Iterator[dict]:
    """One row a trial."""
    return (_trial(trial) for trial in book.trials)


def _stamps(entries: list[dict]) -> Iterator[tuple[dict, dict, str]]:
    """(entry, press, `stage` by which a correction names it) of every press of a trial, in order."""
    for entry in entries:
        if entry["kind"] == "trial.started":
            if entry["body"].get("out_of_kiln"):
                yield entry, entry["body"]["out_of_kiln"], "kiln_out"
            yield entry, entry["body"]["press"], ""
        elif entry["kind"] == "trial.pressed":
            yield entry, entry["body"], ""


def _presses(trial: Trial, entries: list[dict]) -> Iterator[dict]:
    """Every press of one trial as it was made, and what became of it."""
    entries = in_order(entries)
    moved = {(e["body"]["entry"], e["body"].get("stage", "")): e["body"] for e in entries if e["kind"] == "trial.corrected"}
    start = next((e["id"] for e in entries[::-1] if e["kind"] == "trial.started"), None)
    used = {(press.id, stage) for stage, press in trial.presses.items()} | {(start, "kiln_out")}
    for entry, stamp, named in _stamps(entries):
        shift = moved.get((entry["id"], named), {})
        yield {
            "entry_id": entry["id"],
            "trial_id": trial.id,
            "n": entry["n"],
            **{name: stamp[name] for name in ("stage", "wall_ms", "mono_ms", "page", "was_hidden")},
            **{column: shift.get(name) for column, name in (("shift_ms", "shift_ms"), ("shift_reason", "reason"), ("shift_text", "text"))},
            "taken_back": not named and entry["id"] in trial.taken_back,
            "counts": (entry["id"], stamp["stage"]) in used,
        }


def presses(book: Book) -> Iterator[dict]:
    """One row a press, trial by trial."""
    for trial, entries in book.trials.with_entries():
        yield from _presses(trial, entries)


def _uncovered(made: SessionResult) -> str:
    words = {"list": "the list for laying out", "all": "everything"}
    return "; ".join(f"{words[what]} {utc(at_ms)}{f': {why}' if why else ''}" for at_ms, what, why in made.uncovered)


def _session(made: SessionResult) -> dict:
    plan = made.plan
    reference = None if plan["reference"] is None else plan["glasses"][plan["reference"]]
    closed_ms, why = made.closed or (None, None)
    return {
        "session_id": made.id,
        **{name: plan[name] for name in ("title", "test", "is_blind", "repeats", "mass_g", "preheat_c", "minutes_each", "seed")},
        "margin_percent": plan.get("margin_percent"),
        "reference": reference and (reference["piece"] or reference["name"]),
        **{name: plan["conditions"][name] for name in CONDITIONS},
        "changes": len(made.changes),
        "uncovered": _uncovered(made),
        **moment("made", made.made_ms),
        **moment("closed", closed_ms),
        "closed_why": why,
    }


def sessions(book: Book) -> Iterator[dict]:
    """One row a session."""
    return (_session(made) for made in book.sessions)


def runs(book: Book) -> Iterator[dict]:
    """One row a planned run."""
    for made in book.sessions:
        for number, (planned, run) in enumerate(zip(made.plan["runs"], made.runs, strict=True), 1):
            glass, test = made.plan["glasses"][planned["glass"]], run.trial or run.measured
            yield {
                "session_id": made.id,
                "run": number,
                "block": None if planned["block"] is None else planned["block"] + 1,
                "code": planned["code"],
                "is_reference": planned["is_reference"],
                **_glass(glass),
                "state": run.state,
                "why": run.why,
                "test_id": test.id if test else None,
                "other_tests": run.others,
            }


def _glass(glass: dict) -> dict:
    """A glass of a plan or test in its four columns."""
    return {"glass_key": key_of(glass["key"]), "glass_name": glass["name"], "piece_id": glass["piece_id"], "piece": glass["piece"]}


def setups(book: Book) -> Iterator[dict]:
    """One row an answer of the set-up of a measured test."""
    for test in book.measured:
        asked = known_tests()[test.test]["setup"] if test.test else {}
        for name, given in test.setup.items():
            is_word = isinstance(given, str)
            yield {
                **{"test_id": test.id, "test": test.test, "title": test.title, "status": test.status, "session_id": test.session},
                **{"name": name, "label": asked[name]["label"], "unit": asked[name].get("unit"), "value": None if is_word else given, "word": given if is_word else None},
            }


def tested(book: Book) -> Iterator[dict]:
    """One row a glass of a measured test."""
    for test in book.measured:
        for letter, glass in zip(LETTERS, test.glasses, strict=False):
            yield {"test_id": test.id, "letter": letter, **_glass(glass), "mass_g": glass["mass_g"]}


def _reading(test: Measured, place: str, quantity: str) -> dict:
    changes, letter = test.history[place, quantity], test.letter_at(place)
    latest, is_word = changes[-1], isinstance(changes[-1].said, str)
    return {
        **{"test_id": test.id, "test": test.test, "title": test.title, "status": test.status, "reason": test.reason, "operator": test.operator, "consent": test.consent},
        **moment("began", test.started_ms),
        "letter": letter,
        **_glass(test.glass(letter) or NO_GLASS),
        **{"place": place, "quantity": quantity, "unit": known_tests()[test.test]["quantities"][quantity].get("unit")},
        **{"value": None if is_word else latest.said, "word": latest.said if is_word else None},
        **moment("read", latest.at_ms),
        **{"why": latest.why, "readings_made": len(changes), "session_id": test.session, "code": test.code_at(place), "device": test.device},
    }


def measured(book: Book) -> Iterator[dict]:
    """One row a reading, the latest of each place and quantity."""
    return (_reading(test, place, quantity) for test in book.measured for place, quantity in test.history)
