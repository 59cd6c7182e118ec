"""Measured tests as a tablet makes them, for tests. All names are invented."""

import uuid

from tests.entries import WALL_0, entry
from tests.finds import TINY_JPEG

FLOAT_KEY, NATRON_KEY = "modern-float", "ver-ven-2"
JPEG = TINY_JPEG
SETUPS = {
    "pull": {"pattern": "ABA", "pull_c": 850.0, "u_pull_c": 30.0, "reading_sd_mm": 0.05},
    "thread": {"reading_sd_mm": 0.2},
    "fuse": {"peak_c": 760.0, "hold_min": 15.0, "rise_c_h": 200.0, "shelf": "kiln wash", "reference": "A", "contact_angle_deg": 120.0},
    "strip": {"piece": "A", "path_mm": 3.0, "plate": "yes"},
}
# (place, quantity) -> number or word, by test.
READINGS = {
    "pull": {("1", "before_1_mm"): 6.05, ("2", "before_1_mm"): 6.0, ("3", "before_1_mm"): 6.1, ("1", "after_1_mm"): 3.0, ("2", "after_1_mm"): 3.9, ("3", "after_1_mm"): 3.05},
    "thread": {("1", "length_mm"): 300.0, ("1", "thickness_mm"): 0.8, ("1", "inside"): "A", ("1", "bow_mm"): 6.5, ("1", "bow_turned_mm"): 6.0},
    "fuse": {
        ("a1", "glass"): "A", ("a1", "height_before_mm"): 5.0, ("a1", "width_before_mm"): 5.0, ("a1", "height_after_mm"): 4.0, ("a1", "width_after_mm"): 5.6, ("a1", "rounding"): "rounded",
        ("c1", "glass"): "B", ("c1", "height_before_mm"): 5.0, ("c1", "width_before_mm"): 5.0, ("c1", "height_after_mm"): 4.6, ("c1", "width_after_mm"): 5.2, ("c1", "rounding"): "edges soft",
    },
    "strip": {("1", "strip_expansion_1e7_per_k"): 90.0, ("1", "halo"): "white", ("1", "cracked"): "no", ("1", "pulls"): "piece", ("2", "strip_expansion_1e7_per_k"): 100.0, ("2", "halo"): "grey", ("2", "cracked"): "no", ("2", "pulls"): "strip"},
}  # fmt: skip


def glass(name: str, key: str | None = None, **more) -> dict:
    """One glass of a start."""
    return {"key": key, "name": name, "piece_id": None, "piece": None, "mass_g": None, **more}


def start(test: str, subject: str | None = None, /, **body) -> dict:
    """measure.started."""
    glasses = [glass("Modern float glass", FLOAT_KEY), glass("Demo natron glass", NATRON_KEY)][: 1 if test == "strip" else 2]
    usual = {"test": test, "title": "", "glasses": glasses, "setup": SETUPS[test], "consent": None, "operator": None}
    return entry("measure.started", subject or str(uuid.uuid4()), 0, {**usual, **body})


def read(subject: str, n: int, place: str, quantity: str, said: float | str | None, why: str = "", at_ms: int = WALL_0) -> dict:
    """measure.read; None takes the reading back."""
    is_number = isinstance(said, float | int)
    body = {"place": place, "quantity": quantity, "value": said if is_number else None, "word": None if is_number else said or "", **({"why": why} if why else {})}
    return entry("measure.read", subject, n, body, at_ms)


def photo(subject: str, n: int, **body) -> dict:
    """measure.photo."""
    return entry("measure.photo", subject, n, {"place": "1", "jpeg": JPEG, "width": 640, "height": 480, "caption": "invented", **body})


def whole(test: str, **body) -> list[dict]:
    """A test read and kept."""
    first = start(test, **body)
    subject = first["subject"]
    readings = [read(subject, n, *place, said) for n, (place, said) in enumerate(READINGS[test].items(), 1)]
    return [first, *readings, entry("measure.kept", subject, len(readings) + 1, {})]
