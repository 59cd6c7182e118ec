"""Two measured tests of the invented workshop: a pulled rod and a fused board, read to the end and kept. Every reading is made up."""

from collections.abc import Iterable

from demo.finds import Maker, ms_of
from demo.glasses import GLASSES, INVENTED, SITE

OPERATOR = "Demo hand"
PULL_DAY, FUSE_DAY = "2026-03-17", "2026-03-18"
BETWEEN_READINGS_MS = 20_000
CHIP_CODE = "TW3CA"  # of the vessel foot; its keeper agreed to flame and fuse
CHIPS_G = (0.26, 0.25)
FLOAT = {"key": "modern-float", "name": "Modern float glass", "piece_id": None, "piece": None, "mass_g": None}

# Readings in the order in which they were made: (place, quantity, number or word). Float glass lies on both sides of the natron glass.
PULL = (
    ("1", "before_1_mm", 6.05), ("1", "before_2_mm", 6.0), ("2", "before_1_mm", 6.1), ("2", "before_2_mm", 6.0), ("3", "before_1_mm", 6.0), ("3", "before_2_mm", 6.05),
    ("1", "after_1_mm", 4.45), ("1", "after_2_mm", 4.4), ("2", "after_1_mm", 2.4), ("2", "after_2_mm", 2.35), ("3", "after_1_mm", 4.4), ("3", "after_2_mm", 4.45),
)  # fmt: skip
# Two chips of float glass and two of the vessel foot, laid crosswise: (square, letter, mass g, before mm, after mm, look).
FUSE = (
    ("a1", "A", 0.25, (5.1, 5.0), (4.7, 5.3), "edges soft"),
    ("c1", "B", CHIPS_G[0], (5.2, 5.0), (4.3, 5.6), "rounded"),
    ("a3", "B", CHIPS_G[1], (5.0, 5.1), (4.3, 5.5), "rounded"),
    ("c3", "A", 0.26, (5.2, 5.1), (4.7, 5.4), "edges soft"),
)


def fuse_readings() -> Iterable[tuple[str, str, float | str]]:
    """The chips laid, then measured before the firing, then after it."""
    yield from ((square, "glass", letter) for square, letter, *_ in FUSE)
    for square, _letter, mass_g, (height, width), _after, _look in FUSE:
        yield from ((square, "mass_g", mass_g), (square, "height_before_mm", height), (square, "width_before_mm", width))
    for square, _letter, _mass_g, _before, (height, width), look in FUSE:
        yield from ((square, "height_after_mm", height), (square, "width_after_mm", width), (square, "rounding", look), (square, "skin", "bright"))


def whole_test(tablet: Maker, day: str, start: dict, readings: Iterable[tuple[str, str, float | str]], note: str) -> list[dict]:
    """One test from its start to its keeping."""
    at_ms, subject = ms_of(day), tablet.new_id(ms_of(day))
    bodies = [("started", {**start, "operator": OPERATOR})]
    for place, quantity, said in readings:
        is_word = isinstance(said, str)
        bodies.append(("read", {"place": place, "quantity": quantity, "value": None if is_word else said, "word": said if is_word else None}))
    bodies += [("noted", {"text": note}), ("kept", {})]
    return [tablet.entry(f"measure.{kind}", subject, n, at_ms + n * BETWEEN_READINGS_MS, body) for n, (kind, body) in enumerate(bodies)]


def measure_entries(tablet: Maker, natron_key: str, finds: list[dict]) -> list[dict]:
    """Both tests, and what the second used up of its piece; `finds` are the entries of the finds."""
    name = GLASSES["natron"].name
    pull = {
        "test": "pull", "title": f"Float and natron glass in one rod ({INVENTED})", "consent": None,
        "glasses": [FLOAT, {**FLOAT, "key": natron_key, "name": name}], "setup": {"pattern": "ABA", "pull_c": 850.0},
    }  # fmt: skip
    piece = next(entry["subject"] for entry in finds if entry["kind"] == "piece.added" and entry["body"]["code"] == CHIP_CODE)
    used_g = round(sum(CHIPS_G), 2)
    foot = {"key": natron_key, "name": name, "piece_id": piece, "piece": f"{SITE}, find 17, chip ({INVENTED})", "mass_g": used_g}
    fuse = {
        "test": "fuse", "title": f"Vessel foot beside float glass ({INVENTED})", "consent": True, "glasses": [FLOAT, foot],
        "setup": {"peak_c": 790.0, "hold_min": 10.0, "rise_c_h": 200.0, "shelf": "kiln wash", "reference": "A"},
    }  # fmt: skip
    pulled = whole_test(tablet, PULL_DAY, pull, PULL, "Pulled once, slowly; the middle stayed straight. Invented.")
    fused = whole_test(tablet, FUSE_DAY, fuse, fuse_readings(), "Two chips of each, crosswise on the board. Invented.")
    n = sum(1 for entry in finds if entry["subject"] == piece)
    used = tablet.entry("piece.used", piece, n, fused[0]["at_ms"] + 1000, {"mass_g": used_g, "test": "fuse", "trial": fused[0]["subject"]})
    return [*pulled, *fused, used]
