"""What the pair page prints: the answer in one sentence, the chances, the swatches, what the trade says."""

from server.pair.joint import Asked
from server.physics import retardation
from server.physics.seal import CLASSES, PPM
from server.physics.table import table
from server.web.page import in_ten, number

FORMS = {
    "strip": {"label": "Two-layer strip", "a": "One glass", "b": "Other glass", "path": "Width of the strip that the light crosses"},
    "core": {"label": "Core in shell", "a": "Core", "b": "Shell", "path": "Outside diameter"},
    "trail": {"label": "Trail on bead or rod", "a": "Bead or rod", "b": "Trail", "path": "Width of the trail that the light crosses"},
}
HEADS = ("No predicted conflict", "Watch this pair", "High risk of cracks")
SURE = 0.84  # one side of ± one u
SLIGHT_MPA = 4
LIKELY = ("low risk", "the middle class (watch)", "high risk")
WORTH_SAYING = 0.25  # from here a chance is said as 3 in 10, and nothing reassures (judgement)


def settled(made: dict) -> bool:
    """Whether misfit ± u lies within one class."""
    return made["span"][0] == made["span"][1]


def is_alike(made: dict) -> bool:
    """Expansions so close that their difference alone predicts no conflict."""
    return abs(made["strain"]["gap_1e7_k"]) < table("seal")["alike_below_1e7_k"]


def is_stretched(asked: Asked) -> bool:
    """Whether an expansion was carried further than its models' bounds."""
    return any(glass.report["alpha"]["state"] == "extrapolated" for glass in (asked.a, asked.b))


def head(made: dict) -> str:
    """The verdict in a few words; it reassures only where high risk has less than 3 in 10."""
    high, last = made["chances"][-1], len(CLASSES) - 1
    likeliest, how = _likeliest(made["chances"])
    also = f", but high risk has {in_ten(high)}" if high >= WORTH_SAYING and likeliest != last else ""
    if settled(made) and not (also and made["best"] == 0):
        return HEADS[made["best"]] + also
    if is_alike(made) and likeliest == 0 and not also:
        return "No predicted conflict, but the ± is too wide to promise it"
    return f"Cannot say: {LIKELY[likeliest]} is {how}, {in_ten(made['chances'][likeliest])}{also}"


def _likeliest(chances: list[float]) -> tuple[int, str]:
    """Index of the likeliest class; of two that are said alike the graver, and then not as the likeliest."""
    said = [in_ten(chance) for chance in chances]
    likeliest = max(i for i, words in enumerate(said) if words == said[max(range(len(chances)), key=chances.__getitem__)])
    return likeliest, "the likeliest" if said.count(said[likeliest]) == 1 else "as likely as any"


def pulled(mpa: float) -> str:
    """Tension or compression in words."""
    return "tension" if mpa > 0 else "compression"


def force(row: dict) -> str:
    """'slight compression', 'tension': with its word where it is small."""
    return f"{'slight ' if abs(row['mpa']) < SLIGHT_MPA else ''}{pulled(row['mpa'])}"


def mpa(row: dict, which: str = "u") -> str:
    """'12 ± 3 MPa': size and half-width, with as many figures as one would say."""
    digits = 1 if row[which] < 3 else 0
    return f"{number(abs(row['mpa']), digits)} ± {number(row[which], digits)} MPa"


def lead(asked: Asked, made: dict) -> str:
    """The answer as one plain sentence."""
    if asked.a.key == asked.b.key:
        return "The same glass twice: the two contract together, so nothing pulls."
    first, second = made["rows"][0], made["rows"][1]
    if asked.form == "trail":
        body = f"the trail would be in {force(first)}, {mpa(first)}"
    elif asked.form == "core":
        body = f"a long core would be in {force(first)}, {mpa(first)}, and its shell in {pulled(second['mpa'])} round the joint, {mpa(second)}"
    else:
        body = f"at the joint {asked.a.name} would be in {force(first)} and {asked.b.name} in {pulled(second['mpa'])}, {mpa(first)} each"
    verdict = head(made)
    return f"{verdict}: {body}." if verdict in HEADS else f"{verdict}. By the best estimate {body}."


def chances(made: dict) -> str:
    """The chances of the three classes, in words."""
    return ", ".join(f"{name} {in_ten(chance)}" for name, chance in zip(CLASSES, made["chances"], strict=True))


def direction(asked: Asked, made: dict) -> str:
    """Which contracts more, and how sure that is."""
    more = asked.a if made["strain"]["value"] > 0 else asked.b
    sure = made["sign_chance"]
    return f"{more.name} contracts more: {in_ten(sure)}." + ("" if sure >= SURE else " So which side is pulled is not settled either.")


def greatest_tension(made: dict) -> dict:
    """The row with the most tension."""
    return max(made["rows"], key=lambda row: row["mpa"])


def ppm(value: float) -> str:
    return number(abs(value) / PPM)


def trade(made: dict) -> str:
    """What lampworkers expect of this difference in expansion."""
    rule, gap = table("seal")["trade"], abs(made["strain"]["gap_1e7_k"])
    words = next((words for limit, words in rule["up_to_1e7_k"] if gap < limit), rule["beyond"])
    wide = made["chances"][-1] >= WORTH_SAYING and gap < table("seal")["alike_below_1e7_k"]
    return f"{words} (common practice)." + (" That holds only if they truly lie so close, and these ± cannot promise it." if wide else "")


def _swatch(nm: float, label: str) -> dict:
    return {"nm": nm, "hex": retardation.hex_colour(nm), "word": retardation.name(nm), "label": label}


def swatches(seen: dict) -> list[dict]:
    """Best estimate between the two ends of its ±."""
    ends = max(0.0, seen["nm"] - seen["u"]), seen["nm"], seen["nm"] + seen["u"]
    return [_swatch(nm, label) for nm, label in zip(ends, ("at least", "best estimate", "at most"), strict=True)]


def colour_words(seen: dict) -> str:
    """'pale grey; by the ±, anything from black to cream'."""
    low, best, high = (swatch["word"] for swatch in swatches(seen))
    return best if low == high == best else f"{best}; by the ±, anything from {low} to {high}"


def plate_swatches(asked: Asked, seen: dict) -> list[dict]:
    """With a full-wave plate, its slow mark along the joint: what the best estimate turns into."""
    full = table("colour")["full_wave"]["nm"]
    names = {"a": FORMS[asked.form]["a"], "b": FORMS[asked.form]["b"]} if asked.form != "strip" else {"a": asked.a.name, "b": asked.b.name}
    return [_swatch(abs(full + sign * seen["nm"]), f"{names[side]}, {pulled(sign)}") for side, sign in seen["signs"]]


def hazards(asked: Asked) -> list[tuple[str, str]]:
    """(glass, sentence) of what would be driven off in a flame."""
    both = {asked.a.key: asked.a, asked.b.key: asked.b}.values()
    return [(g.name, n["text"]) for g in both for n in g.report["notes"] if n["code"].startswith("hazard_")]


def no_stress() -> dict:
    """The plate alone."""
    return _swatch(table("colour")["full_wave"]["nm"], "no stress")
