"""The joint as a drawing: areas in tension and in compression, each with a hatch, and where its word stands. Units of a 360 × 190 picture."""

from math import cos, radians, sin

WIDTH, HEIGHT = 360, 190
BEND = (180, 440, 26)  # centre x and y of the arch, half its angle in degrees


def picture(form: str, strain: float) -> dict:
    """{areas: [{d, kind}], labels: [{x, y, side, kind, to}]} for a misfit of this sign (positive: a contracts more)."""
    first = "tension" if strain > 0 else "compression"
    kinds = {"a": first, "b": _other(first)}
    return {"strip": _strip, "core": _core, "trail": _trail}[form](kinds)


def _other(kind: str) -> str:
    return "compression" if kind == "tension" else "tension"


def _arch(inner: float, outer: float) -> str:
    """A bent layer between two radii."""
    x, y, half = BEND
    left, right = radians(-90 - half), radians(-90 + half)
    (a, b), (c, d) = ((x + r * cos(t), y + r * sin(t)) for r, t in ((outer, left), (outer, right)))
    (e, f), (g, h) = ((x + r * cos(t), y + r * sin(t)) for r, t in ((inner, right), (inner, left)))
    return f"M{a:.1f} {b:.1f}A{outer} {outer} 0 0 1 {c:.1f} {d:.1f}L{e:.1f} {f:.1f}A{inner} {inner} 0 0 0 {g:.1f} {h:.1f}Z"


def _strip(kinds: dict) -> dict:
    """The glass in tension at the joint lies inside the bend; a third of each layer, at its outer face, has the other sign."""
    inside = "a" if kinds["a"] == "tension" else "b"
    outside = "b" if inside == "a" else "a"
    areas = [(314, 328, "compression"), (328, 356, "tension"), (356, 384, "compression"), (384, 398, "tension")]
    return {
        "areas": [{"d": _arch(low, high), "kind": kind} for low, high, kind in areas],
        "joint": _arch(355, 357),
        "labels": [
            {"x": 180, "y": 14, "anchor": "middle", "side": outside, "kind": "compression", "line": "", "tail": "at the joint"},
            {"x": 180, "y": 158, "anchor": "middle", "side": inside, "kind": "tension", "line": "", "tail": "at the joint"},
        ],
    }


def _circle(x: float, y: float, r: float) -> str:
    return f"M{x - r} {y}A{r} {r} 0 1 0 {x + r} {y}A{r} {r} 0 1 0 {x - r} {y}Z"


def _core(kinds: dict) -> dict:
    return {
        "areas": [{"d": _circle(88, 95, 82) + _circle(88, 95, 42), "kind": kinds["b"]}, {"d": _circle(88, 95, 42), "kind": kinds["a"]}],
        "joint": "",
        "labels": [
            {"x": 186, "y": 56, "anchor": "start", "side": "b", "kind": kinds["b"], "line": "M181 52L146 60", "tail": ""},
            {"x": 186, "y": 128, "anchor": "start", "side": "a", "kind": kinds["a"], "line": "M181 124L112 104", "tail": ""},
        ],
    }


def _trail(kinds: dict) -> dict:
    """Section of a bead, bored for its mandrel, with a trail let into it; the bead answers just under the trail."""
    bead = _circle(88, 110, 70) + _circle(88, 110, 16)
    return {
        "areas": [
            {"d": bead, "kind": "plain"},
            {"d": "M40 59A70 70 0 0 1 136 59Q122 84 88 84Q54 84 40 59Z", "kind": kinds["a"]},
            {"d": "M58 47Q66 18 88 18Q110 18 118 47Q112 64 88 64Q64 64 58 47Z", "kind": kinds["b"]},
        ],
        "joint": "",
        "labels": [
            {"x": 186, "y": 36, "anchor": "start", "side": "b", "kind": kinds["b"], "line": "M181 32L104 38", "tail": ""},
            {"x": 186, "y": 104, "anchor": "start", "side": "a", "kind": kinds["a"], "line": "M181 100L100 72", "tail": "under it"},
        ],
    }
