"""Pure: a pull test in words: how many times as stiff one glass is as the other, and what that is in kelvins."""

from dataclasses import dataclass
from math import exp

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.measure.shape import Lane, Result
from server.physics import pull as law
from server.physics.curve import isokom_vft
from server.physics.shift import common_curve, shift_with_u, slope_per_k
from server.physics.table import table

AXIS = "Viscosity of the one ÷ viscosity of the other"
FAULTS = {"bubble": "a bubble", "joint": "a bad joint", "crack": "a crack"}
STEEP_K = 4  # from here an even change of heat from chip to chip is worth saying (judgement)
MISREAD_SD = 4


@dataclass(frozen=True)
class Rod:
    """The chips that count, what is still missing, what was left out and why, the places that were misread, and how many of these grew thicker."""

    chips: law.Chips
    missing: list[str]
    cautions: list[str]
    misread: list[str]
    grown: int


def result(asked: Asked) -> Result:
    """What the rod tells so far."""
    rod = _rod(asked)
    letters = sorted(set(asked.setup["pattern"]))
    told = sorted(set(rod.chips.letters))
    if len(letters) < 2:
        return _refused(rod, "The rod holds chips of one glass only, so there is nothing to compare.", [])
    if not told and rod.grown > 1:
        return _refused(rod, "Every chip is read thicker after the pull than before.", ["Swap before and after: the two look exchanged."])
    lacking = [asked.called(x) for x in letters if x not in told]
    if len(told) < 2:
        return _refused(rod, f"No whole chip of {say.listed(lacking)} is measured yet.", _still(rod))
    if lacking:
        rod.cautions.append(f"No whole chip of {say.listed(lacking)} is measured yet; the rest is told without it.")
    barely = [x for x in told if (law.thinned(rod.chips.before_mm, rod.chips.after_mm)[rod.chips.of(x)] < table("pull")["thinning"]["least"]).any()]
    firm = [x for x in told if x not in barely]
    if not firm:
        return _refused(rod, "No glass thinned by a tenth, and less than that the calliper cannot tell from nothing.", ["Pull the rod further, or hotter, until every chip has lost a seventh of its thickness."])
    return _compared(asked, rod, firm, barely)


def _refused(rod: Rod, why: str, advice: list[str]) -> Result:
    return Result(sentence=why, refused=why, cautions=tuple(rod.cautions), advice=tuple(advice), sources=(table("pull")["law"],))


def _still(rod: Rod) -> list[str]:
    """What a rod without two whole glasses asks for."""
    if rod.missing:
        return [f"Still missing: {'; '.join(rod.missing)}."]
    again = f"Measure chip {say.listed(rod.misread)} again; if that does not help, pull" if rod.misread else "Pull"
    return [f"{again} a new rod whose chips are sound."]


def _rod(asked: Asked) -> Rod:
    """Chips with both thicknesses and no fault; a chip that grew thicker than the calliper explains, or is no chip of this rod, is misread."""
    sd = asked.set_number("reading_sd_mm", table("pull")["reading_sd_mm"]["value"])
    rows, missing, cautions, misread, grown = [], [], [], [], 0
    usual = _usual_before(asked)
    for i, letter in enumerate(asked.setup["pattern"]):
        place = str(i + 1)
        before, after = (asked.mean(place, f"{when}_1_mm", f"{when}_2_mm") for when in ("before", "after"))
        fault = asked.word(place, "fault")
        if fault:
            cautions.append(f"Chip {place} ({letter}) is left out: {FAULTS.get(fault, fault)}.")
        elif before is None or after is None:
            lacking = [words for words, found in (("before", before), ("after", after)) if found is None]
            missing.append(f"chip {place} ({letter}), thickness {say.listed(lacking)} the pull")
        elif after[0] > before[0] + MISREAD_SD * sd:
            misread.append(place)
            grown += 1
            cautions.append(f"Chip {place} ({letter}) is left out: it is read thicker after the pull than before. Measure it again.")
        elif not 1 / usual[1] <= before[0] / usual[0] <= usual[1]:
            misread.append(place)
            cautions.append(f"Chip {place} ({letter}) is left out: before the pull it is read {say.number(before[0], 1)} mm, the rod about {say.number(usual[0], 1)} mm. Measure it again.")
        else:
            rows.append((letter, float(i), before[0], after[0], sd / before[1] ** 0.5, sd / after[1] ** 0.5))
    columns = list(zip(*rows, strict=True)) if rows else [()] * 6
    return Rod(law.Chips(tuple(columns[0]), *(np.array(column, dtype=float) for column in columns[1:])), missing, cautions, misread, grown)


def _usual_before(asked: Asked) -> tuple[float, float]:
    """(median thickness of the rod before the pull in mm, by how many times a chip may be off it)."""
    read = [x[0] for i in range(len(asked.setup["pattern"])) if (x := asked.mean(str(i + 1), "before_1_mm", "before_2_mm")) and not asked.word(str(i + 1), "fault")]
    return float(np.median(read or [1.0])), table("pull")["uneven_before"]["factor"]


def _heat(asked: Asked, letters: list[str]) -> tuple[float | None, str | None, float, bool]:
    """(°C of the pull or None, letter whose curve turns a ratio into kelvins or None, slope in 1/K for uneven heat, whether the curve makes sense at that heat)."""
    temperature, sense = asked.set_number("pull_c"), table("pull")["sense"]
    counts = asked.setup["pattern"]
    known = sorted((x for x in letters if asked.curve(x)), key=lambda x: -counts.count(x))
    vft = asked.curve(known[0])[0] if known else common_curve()
    hottest, coolest = (isokom_vft(sense[f"log_eta_dpas_{end}"], vft["a"], vft["b"], vft["t0_c"]) for end in ("from", "to"))
    makes_sense = temperature is None or bool(coolest <= temperature <= hottest)
    at = temperature if temperature is not None and makes_sense else float(np.clip(sense["usual_c"], coolest, hottest))
    return temperature, known[0] if known else None, float(slope_per_k(at, vft)), makes_sense


def _compared(asked: Asked, rod: Rod, firm: list[str], barely: list[str]) -> Result:
    """Ratios of the glasses that thinned, bounds for those that hardly did."""
    temperature, known, slope, makes_sense = _heat(asked, firm + barely)
    base = known if known in firm else max(firm, key=asked.setup["pattern"].count)
    said, rows, lanes, cautions, advice = [], [], [], list(rod.cautions), []
    if rod.missing:
        cautions.append(f"Not counted yet: {'; '.join(rod.missing)}.")
    counts = np.array([x in firm for x in rod.chips.letters])
    if not makes_sense:
        cautions.append(f"At {say.number(temperature)} °C {'the estimate of ' + asked.called(known) if known else 'common glass'} would be far too {'stiff' if temperature < 780 else 'runny'} to be pulled, so nothing is said in kelvins: look at the heat again.")
    if len(firm) > 1:
        found = law.fit(_only(rod.chips, counts), slope)
        if abs(found.line) > table("pull")["gradient"]["refuse_k_per_chip"] * slope:
            return _too_steep(rod, found, slope)
        for other in (x for x in firm if x != base):
            _told(asked, found, (other, base), (temperature, known if makes_sense else None), (said, rows, lanes))
        cautions += _line_words(found, slope)
        advice += _advice(found, firm, base)
    for stiff in barely:
        _bound(asked, rod.chips, (stiff, base), slope, (said, rows, lanes, advice))
    if temperature is None:
        advice.append("Note the heat of the next pull: with it the ratio can be said in kelvins.")
    elif known is None:
        advice.append("Neither glass has an estimate with a viscosity curve, so the ratio is not turned into kelvins: enter an analysis of one.")
    cautions += _thin_words(rod.chips, firm)
    where = "" if temperature is None else f"At {say.number(temperature)} °C "
    sentence = say.first_up(where + "; ".join(said)) + "."
    sources = [table("pull")["law"], *(["The kelvins are read off the estimated viscosity curve of " + asked.called(known) + "."] if known and temperature is not None and makes_sense and len(firm) > 1 else [])]
    return Result(sentence, tuple(rows), None, tuple(cautions), tuple(advice), tuple(lanes), AXIS, "", True, tuple(sources))


def _too_steep(rod: Rod, found: law.Fit, slope: float) -> Result:
    """No number: chips of one glass thinned too unlike for one rod evenly heated."""
    line = _line_words(found, slope)[0].split(";")[0]
    rod.cautions.append(f"{line}; no even flame does that.")
    why = "Chips of one glass thinned too unlike along the rod for a ratio: one of them is misread, or one end was far hotter."
    return _refused(rod, why, ["Measure the outer chips again; if they stand, pull a new rod in an even heat."])


def _only(chips: law.Chips, keep: np.ndarray) -> law.Chips:
    letters = tuple(x for x, kept in zip(chips.letters, keep, strict=True) if kept)
    return law.Chips(letters, *(part[keep] for part in (chips.place, chips.before_mm, chips.after_mm, chips.before_sd_mm, chips.after_sd_mm)))


def _told(asked: Asked, found: law.Fit, pair: tuple[str, str], heat: tuple, into: tuple[list, list, list]) -> None:
    """One ratio into (sentences, rows, lanes), the stiffer glass first."""
    said, rows, lanes = into
    ln, u, u95 = law.ln_ratio(found, *pair)
    stiff, soft = pair if ln >= 0 else pair[::-1]
    size = abs(ln)
    names = f"{asked.called(stiff)} ÷ {asked.called(soft)}"
    temperature, known = heat
    kelvin = ""
    if temperature is not None and known in pair:
        vft, curve_u = asked.curve(known)
        off = float(np.hypot(asked.set_number("u_pull_c", table("pull")["pull_u_k"]["value"]), curve_u))
        to_known = ln if known == pair[1] else -ln
        shifts = [shift_with_u(to_known, half, temperature, factor * off, vft) for half, factor in ((u, 1), (u95, 2))]
        other = pair[0] if known == pair[1] else pair[1]
        if all(np.isfinite(x) for pair_ in shifts for x in pair_):
            kelvin = f": about {say.number(abs(shifts[0][0]))} K harder"
            rows.append((f"{asked.called(other)} against {asked.called(known)}", f"{say.harder(shifts[0][0])}, ± {say.number(shifts[0][1])} K (95 in 100: ± {say.number(shifts[1][1])} K)"))
    if size < u95:
        apart = f"{asked.called(pair[0])} and {asked.called(pair[1])} cannot be told apart by this rod: {asked.called(stiff)} is {say.times(exp(size))} times as stiff, anywhere from {say.range_words(size, u95)}"
        said.append(apart)
    else:
        said.append(f"{asked.called(stiff)} is {say.so_many_times(size, u)} as stiff as {asked.called(soft)}{say.doubt(size, u)}{kelvin}")
    rows.insert(0, (f"Viscosity, {names}", f"{say.times(exp(size))} (68 in 100: {say.range_words(size, u)}; 95 in 100: {say.range_words(size, u95)})"))
    lanes.append(say.ratio_lane(names, size, u, u95))


def _bound(asked: Asked, chips: law.Chips, pair: tuple[str, str], slope: float, into: tuple[list, list, list, list]) -> None:
    """What a glass that hardly thinned still tells: at least so many times as stiff."""
    said, rows, lanes, advice = into
    stiff, soft = pair
    ln = law.at_least_ln(chips, stiff, soft, slope)
    names = f"{asked.called(stiff)} ÷ {asked.called(soft)}"
    if ln <= 0:
        said.append(f"{asked.called(stiff)} hardly thinned, and so little cannot be told from {asked.called(soft)}")
    else:
        said.append(f"{asked.called(stiff)} is at least {say.times(exp(ln))} times as stiff as {asked.called(soft)}: it hardly thinned")
        rows.append((f"Viscosity, {names}", f"at least {say.times(exp(ln))} (95 in 100)"))
        lanes.append(Lane(names, exp(ln), exp(ln), None, exp(ln), None))
    advice.append(f"Pull hotter or further, until {asked.called(stiff)} has lost a seventh of its thickness too.")


def _line_words(found: law.Fit, slope: float) -> list[str]:
    """What is to be said of an even change of heat along the rod."""
    if not found.has_line:
        return [f"With these chips a heat that rises along the rod cannot be told from a difference of the glasses; the ± leaves room for some {say.number(table('pull')['gradient']['sd_k_per_chip'])} K from chip to chip. A-B-A takes that out."]
    per_chip = abs(found.line / slope)
    return [f"The rod seems to have been some {say.number(per_chip)} K hotter from chip to chip; that is taken out, but a flatter heat would be surer."] if per_chip > STEEP_K else []


def _thin_words(chips: law.Chips, firm: list[str]) -> list[str]:
    """Chips that lost between a tenth and a seventh."""
    few = [f"{int(p) + 1} ({x})" for x, p, share in zip(chips.letters, chips.place, law.thinned(chips.before_mm, chips.after_mm), strict=True) if x in firm and share < table("pull")["thinning"]["better"]]
    return [f"Chip {say.listed(few)} lost less than a seventh of its thickness: the calliper weighs heavily in it."] if few else []


def _advice(found: law.Fit, firm: list[str], base: str) -> list[str]:
    """What would make the ± smaller."""
    share = max(law.reading_share(found, x, base) for x in firm if x != base)
    if share > 0.5:
        return ["Most of the ± comes from the calliper: measure each chip in two directions, or pull the rod thinner."]
    return ["Most of the ± comes from uneven heat: put more chips in turn (A-B-A-B-A), or pull inside a kiln or muffle."]
