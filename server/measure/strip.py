"""Pure: a strip test in words: the expansion that all strips and the analysis leave open for a piece."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.measure.shape import Lane, Result
from server.physics import retardation, seal
from server.physics import strip as law
from server.physics.table import table
from server.web.page import number

AXIS, UNIT = "Expansion of the piece, 20–300 °C", "× 10⁻⁷/K"
SIDES = {"piece": 1, "strip": -1}
WEAK_U = 3  # strips known less well than this give a wide answer


@dataclass(frozen=True)
class Read:
    """The strips that count with their places, and what is missing."""

    strips: law.Strips
    places: list[str]
    missing: list[str]

    def without(self, j: int) -> "Read":
        return Read(self.strips.without(j), [p for i, p in enumerate(self.places) if i != j], self.missing)


def result(asked: Asked) -> Result:
    """What the strips tell so far."""
    read = _read(asked)
    if not read.places:
        why = "No strip is read whole yet." if read.missing else "No strip is read yet."
        advice = f"Still missing: {'; '.join(read.missing)}." if read.missing else "Give each strip's known expansion, and what is seen at its joint."
        return Result(why, refused=why, advice=(advice,), sources=_sources())
    bench, cautions = _bench(asked, read)
    if read.missing:
        cautions.append(f"Not counted yet: {'; '.join(read.missing)}.")
    each = law.likelihoods(read.strips, bench)
    read, each, said = _agreeing(read, each)
    cautions += said[1:]
    if each is None:
        return Result(said[0], refused=said[0], cautions=tuple(cautions), advice=tuple(_contradiction_advice()), sources=_sources())
    cautions += said[:1]
    if each.max() - each.min() < 1e-9:
        why = "These readings say nothing of the expansion: no halo, crack or pulled side could be used."
        return Result(why, refused=why, cautions=tuple(cautions), sources=_sources())
    return _told(asked, read, law.joint(each), cautions)


def _sources() -> tuple[str, ...]:
    rule = table("strip")
    return tuple(f"{name}: {rule[key]['citation']}." for name, key in (("Halo", "halo"), ("Cracks", "crack"), ("Light against misfit", "field"), ("Strips and piece beyond 300 °C", "beyond_300_u_1e7_per_k")))


def _read(asked: Asked) -> Read:
    """Strips with a known expansion and something seen."""
    words, usual = table("strip")["halo"]["words"], table("strip")["strip_u_1e7_per_k"]["value"]
    has_plate = asked.setup.get("plate") == "yes"
    rows, places, missing = [], [], []
    for place in asked.places():
        alpha, halo, cracked = asked.value(place, "strip_expansion_1e7_per_k"), asked.word(place, "halo"), asked.word(place, "cracked")
        lacking = (["known expansion"] if alpha is None else []) + (["halo, or whether it cracked"] if not halo and not cracked else [])
        if lacking:
            missing.append(f"strip {place}, {say.listed(lacking)}")
            continue
        u = asked.value(place, "strip_u_1e7_per_k")
        pulls = SIDES.get(asked.word(place, "pulls"), 0) if has_plate else 0
        crack = {"yes": 1, "no": 0}.get(cracked, law.NONE)
        rows.append((alpha, usual if u is None else u, words.index(halo) if halo else law.NONE, crack, pulls))
        places.append(place)
    columns = zip(*rows, strict=True) if rows else [()] * 5
    return Read(law.Strips(*(np.array(column) for column in columns)), places, missing)


def _bench(asked: Asked, read: Read) -> tuple[law.Bench, list[str]]:
    """How it was looked at, with what is to be said of the glass."""
    letter, cautions = str(asked.setup.get("piece", "A")), []
    report = asked.estimates.get(letter)
    kind = retardation.stress_optic(report["wt"] if report else {})
    if kind is None:
        cautions.append("So much lead makes stress all but invisible between polarisers: halos and pulled sides are left out, only cracks count.")
    told, usual, curve = asked.set_number("set_c"), table("strip")["set_c"]["value"], asked.curve(letter)
    set_c = told if told is not None else seal.set_point_c(curve[0]) if curve else usual
    if (read.strips.cracked == 1).any():
        cautions.append("A crack lets the stress go, so the halo beside one is not read.")
    span = set_c - table("seal")["room_c"]
    return law.Bench(asked.set_number("path_mm", 3.0) * 1e-3, kind[0] if kind else None, table("seal")["elastic"]["e_pa"], float(span), asked.setup.get("plate") == "yes"), cautions


def _agreeing(read: Read, each: np.ndarray) -> tuple[Read, np.ndarray | None, list[str]]:
    """(strips that agree, their likelihoods or None, sentences): one strip that alone stands against the rest is left out."""
    odd = law.odd_strips(each)
    if not odd:
        return read, each, []
    lone = [j for j in odd if len(each) >= 3 and not law.odd_strips(np.delete(each, j, axis=0))]
    if len(lone) == 1:
        j = lone[0]
        return read.without(j), np.delete(each, j, axis=0), [f"Strip {read.places[j]} is left out: it does not fit what the others show. Was it another glass, or not annealed?"]
    return read, None, [f"The strips contradict each other: {say.listed([read.places[j] for j in odd])} cannot all be right for one expansion."]


def _contradiction_advice() -> list[str]:
    return [
        "Anneal the piece again and look once more: light that a bad annealing left is no misfit. A strip of the piece's own glass must stay dark.",
        "Check which strip is which glass, and read each joint again without looking at the first answer.",
    ]


def _told(asked: Asked, read: Read, likelihood: np.ndarray, cautions: list[str]) -> Result:
    """The range of the piece, from the strips and its analysis."""
    letter = str(asked.setup.get("piece", "A"))
    name = say.first_up(asked.called(letter))
    alpha = (asked.estimates.get(letter) or {}).get("alpha")
    ends = law.open_ends(likelihood)
    lanes, rows = [_strip_lane(likelihood, ends)], [("Strips alone", _range_words(likelihood, ends))]
    together = likelihood
    if alpha:
        density = law.prior(alpha["value_1e7_k"], alpha["u_1e7_k"], alpha["u95_1e7_k"])
        lanes.append(say.lane("Analysis alone", {"value": alpha["value_1e7_k"], "u": alpha["u_1e7_k"], "u95": alpha["u95_1e7_k"]}))
        rows.append(("Analysis alone", f"{say.plus_minus(alpha['value_1e7_k'], alpha['u_1e7_k'])} × 10⁻⁷/K"))
        if law.fits(likelihood, density):
            together, ends = likelihood * density / (likelihood * density).max(), (False, False)
            lanes.insert(0, _lane("Strips and analysis", together))
            rows.insert(0, ("Strips and analysis", _range_words(together, ends)))
        else:
            cautions = [*cautions, "The strips and the analysis contradict each other; the answer is the strips' alone. Was the analysis made on a weathered face, or on another piece?"]
    cautions, advice = cautions + _outside(read, likelihood), _advice(read, likelihood, together, ends)
    return Result(_sentence(name, together, ends, "the strips and the analysis" if len(lanes) == 3 else "the strips"), tuple(rows), None, tuple(cautions), tuple(advice), tuple(lanes), AXIS, UNIT, False, _sources())


def _spans(density: np.ndarray, share: float) -> str:
    return say.listed([f"{number(a)} to {number(b)}" for a, b in law.regions(density, share)], "or")


def _range_words(density: np.ndarray, ends: tuple[bool, bool]) -> str:
    if any(ends):
        return _open_words(density, ends) or "nothing: any expansion fits"
    return f"{_spans(density, 0.68)} × 10⁻⁷/K (95 in 100: {_spans(density, 0.95)})"


def _open_words(density: np.ndarray, ends: tuple[bool, bool]) -> str:
    """'at least 93 × 10⁻⁷/K'; empty where both ends are open."""
    if all(ends):
        return ""
    return f"{'at least' if ends[1] else 'at most'} {number(law.nearest_end(density, at_high=ends[1]))} × 10⁻⁷/K"


def _sentence(name: str, density: np.ndarray, ends: tuple[bool, bool], by: str) -> str:
    """What one bead maker tells another."""
    if all(ends):
        return f"{name} does not expand like any of these strips; whether more or less they do not tell."
    if any(ends):
        return f"{name} lies outside all strips: its expansion is {_open_words(density, ends).replace('/K', ' per K')}."
    inner = law.regions(density, 0.68)
    if len(inner) > 1:
        return f"By {by} the expansion of {name} is {_spans(density, 0.68)} × 10⁻⁷ per K; which of these, the pulled side would tell."
    return f"By {by} the expansion of {name} is about {number(law.middle(density))} × 10⁻⁷ per K, most likely {number(inner[0][0])} to {number(inner[0][1])}."


def _lane(label: str, density: np.ndarray) -> Lane:
    """A lane from the outermost ends of what holds 68 and 95 of 100."""
    ends = [(law.regions(density, share)[0][0], law.regions(density, share)[-1][1]) for share in (0.68, 0.95)]
    return Lane(label, law.middle(density), *ends[0], *ends[1])


def _strip_lane(density: np.ndarray, ends: tuple[bool, bool]) -> Lane:
    """The strips' lane; an end that they leave open has none."""
    closed = _lane("Strips alone", density)
    if not any(ends):
        return closed
    if all(ends):
        return Lane("Strips alone", closed.value, None, None, None, None)
    near = law.nearest_end(density, at_high=ends[1])
    return Lane("Strips alone", near, near if ends[1] else None, None if ends[1] else near, near if ends[1] else None, None if ends[1] else near)


def _outside(read: Read, likelihood: np.ndarray) -> list[str]:
    """Whether the strips' own answer lies beyond the last of them."""
    if any(law.open_ends(likelihood)):
        return ["The strips leave one side open: the piece may lie any distance beyond the last of them."]
    value, low, high = law.middle(likelihood), read.strips.alpha.min(), read.strips.alpha.max()
    if low <= value <= high or len(law.regions(likelihood, 0.68)) > 1:
        return []
    return [f"The answer lies {'above' if value > high else 'below'} every strip, so it hangs on how bright the light was; strips on both sides of it would be surer."]


def _advice(read: Read, likelihood: np.ndarray, together: np.ndarray, ends: tuple[bool, bool]) -> list[str]:
    """Which strip to add, or what to read better."""
    low, high = float(read.strips.alpha.min()), float(read.strips.alpha.max())
    opened, found = law.open_ends(likelihood), []
    if opened[1] != opened[0]:
        found.append(f"Add a strip of {'higher' if opened[1] else 'lower'} expansion, near {number(high + 10 if opened[1] else max(low - 10, 0))} × 10⁻⁷/K.")
    if all(opened) or len(law.regions(together, 0.68)) > 1:
        found.append("Look with the full-wave plate which side of each joint is pulled, or add a strip on the other side of the piece.")
    if not any(ends) and not found:
        outer = law.regions(together, 0.68)
        width = outer[-1][1] - outer[0][0]
        near = number(law.middle(together))
        found += [f"For a finer answer add a strip near {near} × 10⁻⁷/K: the one that stays dark tells most."] if width > 4 and not (read.strips.halo == 0).any() else []
    if (read.strips.alpha_u > WEAK_U).any():
        found.append("The strips' own expansions are poorly known, and the answer cannot be surer than they are.")
    return found
