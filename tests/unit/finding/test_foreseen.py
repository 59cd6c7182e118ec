"""Foreseen against measured: the torch number gives the reference back, and times made by the model itself with known scatter fall inside as often as they should."""

import math
import random

from server.finding.drawing import foreseen_picture
from server.finding.foreseen import foreseen
from server.finding.selection import Timed
from server.physics.flame import sag_time_s

FLOAT = {"vft": {"a": -1.601, "b": 4330.9, "t0_c": 246.1}, "u_k": 1.0}  # standard glass DGG-1, PHYSICS groundwork, seen there
SOFT = {"vft": {"a": -1.513549, "b": 4119.721177, "t0_c": 219.704790}, "u_k": 1.0}  # an illustrative soft glass of the same groundwork


def row(key: str, sag_s: float, number: int, **more) -> Timed:
    told = {"session": "s", "torch": "demo", "operator": "", "colour": "", "mass_g": 2.0, "preheat_c": 500.0, "started_ms": number, "seconds": {"sag": sag_s}, "whys": {}}
    return Timed(f"t{number}", f"glass:{key}", key, key, False, **{**told, **more})


def test_the_reference_fixes_the_torch_and_another_glass_is_foreseen_in_the_groundworks_ratio():
    """Groundwork, table A.4: at h 120 float sags after 17.45 s and the soft glass after 13.88 s."""
    found = foreseen("s", [row("float", s, i) for i, s in enumerate((17.3, 17.45, 17.6))], [row("soft", 13.9, 9)], {"float": FLOAT, "soft": SOFT})
    assert math.isclose(found.torch.h_w_m2k, 120, rel_tol=0.02) and found.unknown == ()
    [seen] = found.seen
    assert math.isclose(seen.foreseen.best_s, 13.88, rel_tol=0.02) and seen.foreseen.holds(13.9) and found.inside("sag", 95) == (1, 1)


def test_times_scattered_as_stated_fall_inside_as_often_as_stated():
    """400 chips whose times scatter about the model by the stated 15 %: 68 and 95 of 100, within what chance allows (3 standard deviations of a share)."""
    dice, best = random.Random(5), float(sag_time_s(SOFT["vft"], 2.0, 500.0, 120.0))
    others = [row("soft", best * math.exp(dice.gauss(0, 0.15)), 10 + i) for i in range(400)]
    found = foreseen("s", [row("float", s, i) for i, s in enumerate((17.4, 17.45, 17.5))], others, {"float": FLOAT, "soft": SOFT})
    for share, of in ((0.68, 68), (0.95, 95)):
        inside, count = found.inside("sag", of)
        assert abs(inside / count - share) < 3 * math.sqrt(share * (1 - share) / count) + 0.01
    assert len(foreseen_picture([found], "sag")["points"]) == 400 and foreseen_picture([found], "glow") is None


def test_what_cannot_be_foreseen_says_why():
    assert "no estimated viscosity curve" in foreseen("s", [row("float", 17.0, 1)], [], {}).why
    lacking = foreseen("s", [row("float", 17.0, 1)], [row("other", 15.0, 2)], {"float": FLOAT})
    assert lacking.unknown == ("other",) and lacking.seen == ()
    assert "No flame that the model knows" in foreseen("s", [row("float", 0.5, 1)], [row("float", 15.0, 2)], {"float": FLOAT}).why
    out = foreseen("s", [row("float", 17.0, 1, whys={"sag": "left out"})], [], {"float": FLOAT})
    assert out.torch is None and "No run of the reference" in out.why
