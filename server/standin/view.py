"""What the stand-in page prints: plain sentences of a ranking, and the places of its pictures."""

from server.physics import alike
from server.physics.table import table
from server.standin.ranking import Count, Ranking, Row, reason_apart
from server.web.page import in_ten, number

SHOWN = 10
REACH = 4.0  # half the width of a picture, in margins
TABLE = table("alike")
WORDS = alike.VERDICTS
KEYS = ("alike", "differs", "unsure")
COUNT_WORDS = ("none", "one", "two", "three", "four", "all five")


def place(value: float, margin: float) -> float:
    """Where a difference stands in its picture, in % of the width; at the edge where it lies beyond."""
    return round(50 + 50 * max(-1.0, min(1.0, value / margin / REACH)), 2)


def picture(count: Count) -> dict:
    """Places in % of the best guess, the ends of the 68 % and 95 % whiskers and of the margin's band, and where it goes on beyond."""
    ends = {f"{name}_{side}": count.difference + sign * half for name, half in (("u", count.u), ("w", count.u95)) for side, sign in (("low", -1), ("high", 1))}
    reach = REACH * count.margin
    return {
        "key": KEYS[count.verdict],
        "dot": place(count.difference, count.margin),
        "band_low": place(-count.margin, count.margin),
        "band_high": place(count.margin, count.margin),
        "beyond_low": ends["w_low"] < -reach,
        "beyond_high": ends["w_high"] > reach,
        **{name: place(value, count.margin) for name, value in ends.items()},
    }


def amount(count: Count, value: float) -> str:
    """A figure with the unit of its criterion."""
    digits = count.criterion["digits"]
    if count.criterion["key"] == "expansion" and value < 3:
        digits = 1
    return f"{number(value, digits)} {count.criterion['unit']}"


def guess(count: Count) -> str:
    """The difference as one says it: '12 K hotter, give or take 30 (75 at 95 %)'."""
    size, digits, unit = abs(count.difference), count.criterion["digits"], count.criterion["unit"]
    wide = f"give or take {number(count.u, digits)} ({number(count.u95, digits)} at 95 %)"
    if round(size, digits) == 0:
        return f"no difference in {unit}, {wide}"
    word = count.criterion["more" if count.difference > 0 else "less"]
    return f"{number(size, digits)} {unit} {word}, {wide}"


def chances(row: Row) -> str:
    """How likely each criterion that cannot be said lies inside its margin; empty where all can be said."""
    unsure = [f"{c.criterion['label'].lower()} {in_ten(c.chance).removeprefix('about ')}" for c in row.counts if c.is_unsure]
    return f"Chance inside your margin: {', '.join(unsure)}." if unsure else ""


def _named(count: Count) -> str:
    """What a count says when it differs: 'softens hotter'."""
    return count.criterion["differs"][0 if count.difference > 0 else 1]


def sentence(row: Row) -> str:
    """A row in a sentence: what differs, what is alike, and where the best guess of the rest lies."""
    differs = [_named(c) for c in row.counts if c.verdict == alike.DIFFERS]
    same = [c.criterion["label"].lower() for c in row.counts if c.verdict == alike.ALIKE]
    unsure = [c for c in row.counts if c.is_unsure]
    outside = [_named(c) for c in unsure if not c.is_within]
    parts = [f"Differs: {', '.join(differs)}." if differs else "", f"Alike in {', '.join(same)}." if same else ""]
    if outside:
        parts.append(f"By best guess it {' and '.join(outside)}." if len(outside) < 3 else f"By best guess: {', '.join(outside)}.")
    elif unsure:
        parts.append(f"By best guess within your margins on {COUNT_WORDS[len(unsure)]}.")
    return " ".join(part for part in parts if part)


def lead(made: Ranking) -> str:
    """The first sentence: the best three, or why there are none."""
    if reason := reason_apart(made.glass):
        return f"Nothing can be ranked against this glass. {reason}"
    if not made.rows:
        return "There is no glass of the other kind with an estimate to rank."
    return f"Nearest by best guess: {'; then '.join(row.glass.name for row in made.rows[:3])}."


def doubt(made: Ranking) -> str:
    """The second sentence: how much of the best three is sure."""
    best = [count for row in made.rows[:3] for count in row.counts]
    unsure = sum(count.is_unsure for count in best)
    if not best:
        return ""
    if unsure == len(best):
        return "None of this is sure yet: the estimates are wider than your margins. Open a row to see which test would settle it."
    if not unsure:
        return "All of it is sure within your margins."
    return f"Of their {len(best)} verdicts {unsure} cannot be said yet. Open a row to see which test would settle them."


def cautions(glass) -> list[str]:
    """What one must know of a glass before it is heated or believed: hazards, and where its estimate errs to one side."""
    return [n["text"] for n in glass.report["notes"] if n["code"].startswith(("hazard_", "hotter_", "cooler_"))]


def known_by(glass) -> str:
    """How good the row's figures are, in the words of the evidence marks."""
    if glass.from_memory:
        return "figures from memory"
    return "extrapolated" if glass.report["status"] == "extrapolated" else "estimated"


def settle_words(count: Count) -> str:
    """How well a difference must be measured to settle a count, should the best guess hold."""
    need = count.settling["need95"]
    return f"The best guess lies {amount(count, need)} {'inside' if count.is_within else 'outside'} your margin: a difference measured to ±{amount(count, need)} (95 %) would settle it."
