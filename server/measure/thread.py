"""Pure: a thread test in words: which glass shrinks more, by how much, and what that means for joining the two."""

from dataclasses import dataclass

import numpy as np

from server.measure import saying as say
from server.measure.saying import Asked
from server.measure.setting import SetPoint, set_point
from server.measure.shape import Result
from server.physics import seal
from server.physics import thread as law
from server.physics.table import table
from server.web.page import in_ten, number

AXIS, UNIT = "Expansion of A less expansion of B, room to set point", "× 10⁻⁷/K"
MM = 1e-3
NEEDED = {"length_mm": "length", "thickness_mm": "thickness"}
SURE = 0.9  # a chance of low risk from which no conflict is seen (judgement)
WORTH_SAYING = 0.15  # a chance of high risk that is said beside a milder verdict (judgement)
SIDES = {"A": 1.0, "B": -1.0, "straight": 0.0}
SOURCES = (
    "Thread of two half-moons: curvature = 16/(3π) × misfit ÷ thickness (beam theory; the rest of the shares by the moment of the segment).",
    "The glass of the higher expansion lies inside the bow (statics).",
)


@dataclass(frozen=True)
class Read:
    """The threads that count with their places, what is missing, what was left out and why, how far the two lies of each differ in m (NaN where
    only one was read), and the places that sag by more than the ruler's error and were not turned over."""

    threads: law.Threads
    places: list[str]
    missing: list[str]
    left_out: list[str]
    half_gap: np.ndarray
    sagging: list[str]


def result(asked: Asked) -> Result:
    """What the threads tell so far."""
    read = _read(asked)
    if not read.places:
        why = "No thread is measured whole yet." if read.missing else "No thread is measured yet."
        if read.left_out and not read.missing:
            why = "No thread that was measured can be counted."
            return Result(why, refused=why, cautions=tuple(read.left_out), advice=("Draw a longer and thinner thread, and read its bow from the straight line.",), sources=SOURCES)
        advice = f"Still missing: {'; '.join(read.missing)}." if read.missing else "Measure length, thickness, the bow and which glass lies inside it."
        return Result(why, refused=why, cautions=tuple(read.left_out), advice=(advice,), sources=SOURCES)
    point = _set_point(asked)
    set_c, set_u = point.set_c, point.u_k
    strain = law.mean_misfit(read.threads)
    gap = law.expansion_difference(strain, set_c, set_u)
    chances = [float(x) for x in seal.class_chances(strain["value"], strain["u"], strain["u95"])]
    rows = (
        ("Difference of expansion, A less B", f"{say.plus_minus(gap['value'], gap['u'], 1)} × 10⁻⁷/K (95 in 100: ± {number(gap['u95'], 1)})"),
        ("Misfit", f"{say.plus_minus(strain['value'] / seal.PPM, strain['u'] / seal.PPM)} ppm (95 in 100: ± {number(strain['u95'] / seal.PPM)} ppm)"),
        ("Risk of the joint", ", ".join(f"{name} {in_ten(chance)}" for name, chance in zip(("low", "middle (watch)", "high"), chances, strict=True))),
        ("Sets at", f"{say.plus_minus(set_c, set_u)} °C"),
        ("Threads", str(len(read.places))),
    )
    return Result(
        _sentence(asked, gap, strain, chances), rows, None, tuple(point.cautions + _cautions(read, gap)), tuple(_advice(read, gap, strain)),
        (say.lane("A less B", gap),), AXIS, UNIT, False, (*SOURCES, table("seal")["classes"]["citation"]),
    )


def _read(asked: Asked) -> Read:
    """Threads whose length, thickness, bow and side are there; a straight one needs no bow."""
    sd = asked.set_number("reading_sd_mm", table("thread")["bow_sd_mm"]["value"])
    shares = table("thread")["share_u"]
    rows, places, missing, left_out, gaps, sagging = [], [], [], [], [], []
    for place in asked.places():
        length, thickness, side = asked.value(place, "length_mm"), asked.value(place, "thickness_mm"), asked.word(place, "inside")
        bow = asked.mean(place, "bow_mm", "bow_turned_mm")
        lacking = [words for key, words in NEEDED.items() if asked.value(place, key) is None]
        lacking += (["which glass lies inside"] if not side else []) + (["bow"] if bow is None and side != "straight" else [])
        if lacking:
            missing.append(f"thread {place}, {say.listed(lacking)}")
            continue
        mean, count = bow or (0.0, 1)
        if why := _no_thread(length, thickness, mean):
            left_out.append(f"Thread {place} is left out: {why}")
            continue
        weight = float(law.sag(thickness * MM, length * MM, table("seal")["elastic"]["e_pa"]))
        bow_sd = sd * MM / count**0.5
        sagging += [place] if count == 1 and weight > sd * MM else []
        if not side or side == "straight":
            bow_sd = np.hypot(bow_sd, mean * MM)  # a bow that lies to neither side is doubt, not misfit
        share = asked.value(place, "share_a")
        rows.append((SIDES[side] * mean * MM, bow_sd, thickness * MM, length * MM, 0.5 if share is None else share, shares["assumed" if share is None else "given"], weight / 3**0.5 if count == 1 else 0.0))
        both = asked.value(place, "bow_mm"), asked.value(place, "bow_turned_mm")
        gaps.append(np.nan if None in both else abs(both[0] - both[1]) / 2 * MM - weight - 2.0 * sd * MM)
        places.append(place)
    columns = zip(*rows, strict=True) if rows else [()] * 7
    return Read(law.Threads(*(np.array(column, dtype=float) for column in columns)), places, missing, left_out, np.array(gaps), sagging)


def _no_thread(length_mm: float, thickness_mm: float, bow_mm: float) -> str:
    """Why lengths cannot be those of a thread; empty where they can."""
    rule = table("thread")
    if length_mm < rule["slender"]["least"] * thickness_mm:
        return f"it is short and thick; the rule holds for one at least {rule['slender']['least']} times as long as thick."
    if bow_mm > rule["deep"]["misread_share"] * length_mm:
        return "a bow of more than half its length is no bow of two glasses; read it again."
    return ""


def _set_point(asked: Asked) -> SetPoint:
    """Where the softer glass sets in a thread: as told, else some 15 K above an annealed piece's."""
    found = set_point(asked, ["A", "B"])
    if asked.set_number("set_c") is not None:
        return found
    fast = table("thread")["fast_cooled"]
    return SetPoint(found.set_c + fast["add_k"], float(np.hypot(found.u_k, fast["u_k"])), found.cautions)


def _verdict(chances: list[float]) -> str:
    """What the chances of low, middle and high risk come to."""
    likeliest = max(range(3), key=chances.__getitem__)
    if likeliest == 0 and chances[0] < SURE:
        return f"A conflict is not ruled out: low risk has {in_ten(chances[0])}"
    verdict = ("No conflict is seen", "Watch this pair", "High risk of cracks")[likeliest]
    return verdict + (f", but high risk has {in_ten(chances[2])}" if likeliest < 2 and chances[2] >= WORTH_SAYING else "")


def _sentence(asked: Asked, gap: dict, strain: dict, chances: list[float]) -> str:
    """The answer; which glass lies inside, or that the threads cannot tell."""
    more, less = (asked.called(x) for x in ("AB" if gap["value"] >= 0 else "BA"))
    size = f"{number(abs(gap['value']), 1)} × 10⁻⁷ per K"
    if abs(gap["value"]) >= gap["u95"]:
        return f"{say.first_up(more)} shrinks more and lies inside the bow: its expansion is {size} above that of {less}, give or take {number(gap['u'], 1)}. {_verdict(chances)}."
    if strain["u95"] > table("seal")["classes"]["low_below_ppm"] * seal.PPM:
        return f"These threads cannot tell whether {more} and {less} shrink alike: they differ by {size}, give or take {number(gap['u'], 1)} (95 in 100: {number(gap['u95'], 1)}). Low risk: {in_ten(chances[0])}; high risk: {in_ten(chances[2])}."
    return f"{say.first_up(more)} and {less} shrink alike as far as these threads tell: they differ by {size}, give or take {number(gap['u'], 1)}. {_verdict(chances)}."


def _cautions(read: Read, gap: dict) -> list[str]:
    """What may spoil it."""
    found, threads, rule = list(read.left_out), read.threads, table("thread")
    if abs(gap["value"]) > rule["far"]["ask_above_1e7_per_k"]:
        found.append("So far apart hardly any two glasses hold to one thread: read bow, length and thickness again.")
    if read.sagging:
        found.append(f"Thread {say.listed(read.sagging)} may sag by {'its' if len(read.sagging) == 1 else 'their'} own weight by more than the ruler's error, read lying one way only: read the bow turned over too.")
    if read.missing:
        found.append(f"Not counted yet: {'; '.join(read.missing)}.")
    if len(set(np.sign(threads.bow[threads.bow != 0]))) > 1:
        found.append("The threads bow to different sides: either their own bend from the pull is as large as what is measured, or the glasses were mixed up.")
    crooked = [p for p, over in zip(read.places, read.half_gap, strict=True) if over > 0]
    if crooked:
        found.append(f"Thread {say.listed(crooked)}: the two ways of lying differ by more than its own weight and the ruler explain. Is it twisted, or was the bow read in another plane?")
    if (np.abs(threads.bow) > rule["deep"]["share"] * threads.length).any():
        found.append("A bow of more than a tenth of the length is summed as an even arc: see that the thread is no steeper in one place than in another.")
    return found


def _advice(read: Read, gap: dict, strain: dict) -> list[str]:
    """What to measure next."""
    enough, found = table("thread")["threads"]["enough"], []
    if len(read.places) < enough:
        found.append(f"Draw {say.plural(enough - len(read.places), 'more thread')}: a bend that one thread kept from the pull cannot be told from the glass.")
    if np.isnan(read.half_gap).any():
        found.append("Turn each thread over and read its bow again: the mean of the two is free of its own weight and of a crooked edge.")
    if abs(gap["value"]) < gap["u95"] and not found:
        found.append("For a finer answer take longer or thinner threads: twice the length bows four times as far.")
    if strain["scatter_sd"] > 2 * abs(strain["value"]) > 0 and len(read.places) >= enough:
        found.append("The threads scatter: hold the next ones straight until they have set, and cut from the middle.")
    return found
