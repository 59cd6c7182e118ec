"""Entries as a tablet makes them, for tests. All names are invented."""

import itertools
import uuid

DEVICE = "018f0000-0000-7000-8000-0000000000d1"
PAGE = "018f0000-0000-7000-8000-00000000aaaa"
OTHER_PAGE = "018f0000-0000-7000-8000-00000000bbbb"
WALL_0 = 1_790_000_000_000
STAGES = ("flame_in", "sagged", "round", "flame_out", "glow_gone")
_count = itertools.count(1)

SETUP = {
    "glass_key": "demo-rubin",
    "glass_name": "Demo Rubin rod",
    "piece": None,
    "consent": None,
    "keeper": None,
    "mass_g": 2.0,
    "preheat_c": 500.0,
    "torch": "demo torch, 5 cm",
    "operator": None,
}


def new_id() -> str:
    """A UUIDv7-shaped id; ids sort in the order of the calls."""
    time = f"{0x0199_0000_0000 + next(_count):012x}"
    return f"{time[:8]}-{time[8:]}-7000-8000-{uuid.uuid4().hex[:12]}"


def entry(kind: str, subject: str, n: int, body: dict, at_ms: int = WALL_0, device: str = DEVICE) -> dict:
    """One entry as on the wire."""
    return {"id": new_id(), "kind": kind, "subject": subject, "n": n, "device": device, "at_ms": at_ms, "body": body}


def stamp(stage: str, wall_s: float, mono_s: float | None = None, page: str = PAGE, was_hidden: bool = False) -> dict:
    """A press stamp; seconds after WALL_0 on the wall, seconds on the page's own clock."""
    mono = wall_s if mono_s is None else mono_s
    return {"stage": stage, "wall_ms": WALL_0 + wall_s * 1000, "mono_ms": 5000 + mono * 1000, "page": page, "was_hidden": was_hidden}


def started(subject: str, n: int = 0, press: dict | None = None, **setup) -> dict:
    """trial.started."""
    return entry("trial.started", subject, n, {**SETUP, **setup, "press": press or stamp("flame_in", 0)})


def pressed(subject: str, n: int, press: dict) -> dict:
    """trial.pressed."""
    return entry("trial.pressed", subject, n, press)


def whole_trial(subject: str | None = None, at_s=(0, 14.2, 31.0, 45.5, 55.25), **setup) -> list[dict]:
    """A trial kept, with presses at these seconds after the start of the wall clock."""
    subject = subject or str(uuid.uuid4())
    rest = [pressed(subject, n, stamp(STAGES[n], at_s[n])) for n in range(1, 5)]
    return [started(subject, 0, stamp("flame_in", at_s[0]), **setup), *rest, entry("trial.kept", subject, 5, {})]
