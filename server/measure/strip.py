"""Pure: a strip test in words: the expansion that all strips and the analysis leave open for a piece."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.measure.setting import set_point
from server.measure.shape import Lane, Result
from server.physics import retardation
from server.physics import strip as law
from server.physics.table import table
from server.web.page import number

AXIS, UNIT = "Expansion of the piece, 20–300 °C", "× 10⁻⁷/K"
SIDES = {"piece": 1, "strip": -1}
FURTHER = 10  # 1e-7/K beyond the last strip where the next one is advised (judgement)
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
        return Result(said[0], refused=said[0], cautions=tuple(cautions), advice=tuple(_contradiction_advice(read)), sources=_sources())
    cautions += said[:1]
    if each.max() - each.min() < 1e-9:
        why = "These readings say nothing of the expansion: no halo, crack or pulled side could be used."
        return Result(why, refused=why, cautions=tuple(cautions), sources=_sources())
    return _told(asked, read, bench, law.joint(each), cautions)


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
    point = set_point(asked, [letter])
    cautions += point.cautions
    if (read.strips.cracked == 1).any():
        cautions.append("A crack lets the stress go, so the halo beside one is not read, nor the pulled side.")
    span = point.set_c - table("seal")["room_c"]
    return law.Bench(asked.set_number("path_mm", 3.0) * 1e-3, kind[0] if kind else None, table("seal")["elastic"]["e_pa"], float(span), asked.setup.get("plate") == "yes", point.u_k), cautions


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


def _contradiction_advice(read: Read) -> list[str]:
    """What to look at again; strips that all stay dark are mostly looked at wrongly."""
    if (read.strips.halo == 0).all() and not (read.strips.cracked == 1).any():
        return [
            "Strips so unlike cannot all be free of stress: see that the two sheets are crossed, so that the field is dark without glass, and that the joint stands at 45° to both.",
            "Look at the joint edge-on, along it, not face-on through it.",
            "In glass too dark or cloudy to see through, stress does not show: do the thread test instead.",
        ]
    return [
        "Anneal the piece again and look once more: light that a bad annealing left is no misfit. A strip of the piece's own glass must stay dark.",
        "Check which strip is which glass, and read each joint again without looking at the first answer.",
    ]


@dataclass(frozen=True)
class Seen:
    """What the strips alone leave open: their likelihood, its open ends (low, high), and the density that real glasses make of it."""

    read: Read
    bench: law.Bench
    likelihood: np.ndarray
    ends: tuple[bool, bool]
    density: np.ndarray

    def out(self) -> str:
        """'between 80 and 100 × 10⁻⁷/K': what the strips rule out; empty for nothing."""
        found = law.ruled_out(self.likelihood)
        return f"between {say.listed([f'{number(a)} and {number(b)}' for a, b in found], 'or between')} × 10⁻⁷/K" if found else ""


def _told(asked: Asked, read: Read, bench: law.Bench, likelihood: np.ndarray, cautions: list[str]) -> Result:
    """The range of the piece, from the strips and its analysis."""
    letter = str(asked.setup.get("piece", "A"))
    name = say.first_up(asked.called(letter))
    alpha = (asked.estimates.get(letter) or {}).get("alpha")
    seen = Seen(read, bench, likelihood, law.open_ends(likelihood), likelihood * law.real_glasses())
    lanes, rows = _strip_lane(seen), [("Strips alone", _range_words(seen))]
    together, ends, by = seen.density, seen.ends, "the strips"
    if alpha:
        density = law.prior(alpha["value_1e7_k"], alpha["u_1e7_k"], alpha["u95_1e7_k"])
        lanes.append(say.lane("Analysis alone", {"value": alpha["value_1e7_k"], "u": alpha["u_1e7_k"], "u95": alpha["u95_1e7_k"]}))
        rows.append(("Analysis alone", f"{say.plus_minus(alpha['value_1e7_k'], alpha['u_1e7_k'])} × 10⁻⁷/K"))
        if law.fits(likelihood, density):
            together, ends, by = likelihood * density / (likelihood * density).max(), (False, False), "the strips and the analysis"
            lanes.insert(0, _lane("Strips and analysis", together))
            rows.insert(0, ("Strips and analysis", _closed_words(together)))
        else:
            cautions = [*cautions, "The strips and the analysis contradict each other; the answer is the strips' alone. Was the analysis made on a weathered face, or on another piece?"]
    cautions, advice = cautions + _outside(seen), _advice(seen, together, ends)
    return Result(_sentence(name, seen, together, ends, by), tuple(rows), None, tuple(cautions), tuple(advice), tuple(lanes), AXIS, UNIT, False, _sources())


def _spans(density: np.ndarray, share: float) -> str:
    return say.listed([f"{number(a)} to {number(b)}" for a, b in law.regions(density, share)], "or")


def _closed_words(density: np.ndarray) -> str:
    return f"{_spans(density, 0.68)} × 10⁻⁷/K (95 in 100: {_spans(density, 0.95)})"


def _range_words(seen: Seen) -> str:
    """What the strips alone leave open."""
    if all(seen.ends):
        return f"not {seen.out()}" if seen.out() else "nothing: any expansion fits"
    return _open_words(seen) if any(seen.ends) else _closed_words(seen.density)


def _open_words(seen: Seen) -> str:
    """'at least 93 × 10⁻⁷/K', of one open end."""
    return f"{'at least' if seen.ends[1] else 'at most'} {number(law.nearest_end(seen.likelihood, at_high=seen.ends[1]))} × 10⁻⁷/K"


def _sentence(name: str, seen: Seen, density: np.ndarray, ends: tuple[bool, bool], by: str) -> str:
    """What one bead maker tells another."""
    if all(ends):
        if not seen.out():
            return f"These strips say next to nothing of the expansion of {name}."
        return f"{name} does not expand like any of these strips: its expansion is not {seen.out().replace('/K', ' per K')}; {'where else' if len(law.ruled_out(seen.likelihood)) > 1 else 'whether more or less'} they do not tell."
    if any(ends):
        near, alpha = law.nearest_end(seen.likelihood, at_high=ends[1]), seen.read.strips.alpha
        words = _open_words(seen).replace("/K", " per K")
        if near > alpha.max() if ends[1] else near < alpha.min():
            return f"{name} lies outside all strips: its expansion is {words}."
        return f"By {by} the expansion of {name} is {words}; they set it no end {'above' if ends[1] else 'below'}."
    inner = law.regions(density, 0.68)
    if len(inner) > 1:
        left = "the pulled side would tell" if _unread_sides(seen) else "they do not tell"
        return f"By {by} the expansion of {name} is {_spans(density, 0.68)} × 10⁻⁷ per K; which of these, {left}."
    return f"By {by} the expansion of {name} is about {number(law.middle(density))} × 10⁻⁷ per K, most likely {number(inner[0][0])} to {number(inner[0][1])}."


def _unread_sides(seen: Seen) -> bool:
    """Whether the pulled side could still be looked at: light at a joint that holds, and no side named there."""
    strips = seen.read.strips
    return seen.bench.c_per_pa is not None and bool(((strips.cracked != 1) & (strips.halo > 0) & (strips.pulls == 0)).any())


def _lane(label: str, density: np.ndarray) -> Lane:
    """A lane from the outermost ends of what holds 68 and 95 of 100."""
    ends = [(law.regions(density, share)[0][0], law.regions(density, share)[-1][1]) for share in (0.68, 0.95)]
    return Lane(label, law.middle(density), *ends[0], *ends[1])


def _strip_lane(seen: Seen) -> list[Lane]:
    """The strips' lane; an end that they leave open has none, and with both open there is no lane."""
    if all(seen.ends):
        return []
    if not any(seen.ends):
        return [_lane("Strips alone", seen.density)]
    near, is_high = law.nearest_end(seen.likelihood, at_high=seen.ends[1]), seen.ends[1]
    low, high = (near, None) if is_high else (None, near)
    return [Lane("Strips alone", near, low, high, low, high)]


def _outside(seen: Seen) -> list[str]:
    """Whether the strips' own answer lies beyond the last of them."""
    if all(seen.ends):
        return ["The strips leave both sides open: the piece may lie any distance below or above what they rule out."]
    if any(seen.ends):
        return ["The strips leave one side open: the piece may lie any distance beyond the last of them."]
    inner, low, high = law.regions(seen.density, 0.68), seen.read.strips.alpha.min(), seen.read.strips.alpha.max()
    is_above, is_below = inner[0][0] > high, inner[-1][1] < low
    if len(inner) > 1 or not (is_above or is_below) or not (seen.read.strips.halo > 0).any():
        return []
    return [f"The answer lies {'above' if is_above else 'below'} every strip, so it hangs on how bright the light was; strips on both sides of it would be surer."]


def _advice(seen: Seen, together: np.ndarray, ends: tuple[bool, bool]) -> list[str]:
    """Which strip to add, or what to read better."""
    strips, found = seen.read.strips, []
    two = not any(ends) and len(law.regions(together, 0.68)) > 1
    if any(seen.ends):
        found += _further(strips, seen.ends)
    if all(seen.ends) or two:
        if _unread_sides(seen):
            found.append("Look with the full-wave plate which side of each joint is pulled, or add a strip on the other side of the piece.")
        elif two and not (strips.cracked == 1).all():
            found.append("Add a strip between the two ranges: the one that stays dark tells most.")
        if (strips.cracked == 1).all():
            found.append("Every strip cracked, and a crack tells only that a strip is far off: take strips that are nearer to the piece.")
    if not any(ends) and not found:
        outer, rule = law.regions(together, 0.68), table("strip")["glasses"]
        width, near = outer[-1][1] - outer[0][0], law.middle(together)
        found += [f"For a finer answer add a strip near {number(near)} × 10⁻⁷/K: the one that stays dark tells most."] if width > 4 and not (strips.halo == 0).any() and rule["lowest_strip"] <= near <= rule["highest_strip"] else []
    if (strips.alpha_u > WEAK_U).any():
        found.append("The strips' own expansions are poorly known, and the answer cannot be surer than they are.")
    return found


def _further(strips: law.Strips, ends: tuple[bool, bool]) -> list[str]:
    """The strips that would close an open end, where glasses of such an expansion are to be had."""
    rule = table("strip")["glasses"]
    near = (float(strips.alpha.min()) - FURTHER, float(strips.alpha.max()) + FURTHER)
    to_be_had = [rule["lowest_strip"] <= x <= rule["highest_strip"] for x in near]
    found = [f"Add a strip of {word} expansion, near {number(x)} × 10⁻⁷/K." for word, x, is_open, had in zip(("lower", "higher"), near, ends, to_be_had, strict=True) if is_open and had]
    return found or [f"Hardly any glass expands {'more' if ends[1] else 'less'} than the last strip: read the joints and the strips' expansions again."]
