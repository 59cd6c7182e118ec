"""Pure: verdicts in sentences that could stand in a paper."""

from math import exp

from server.finding.foreseen import Foreseen
from server.finding.likeness import Likeness, Margin
from server.finding.scatter import Control
from server.finding.selection import Group
from server.finding.unknown import Told
from server.physics import offset as law
from server.physics.agreement import Agreement
from server.physics.components import Components
from server.physics.table import table
from server.trial.results import seconds, utc

MOST_GROUPS = 12
MOST_SESSIONS = 12  # that a page draws one by one
MOST_TIMES = 2000  # that a page carries as a table
MOST_LEFT_OUT = 100  # that a page names one by one
MOST_LN = 20.0  # where a growth is beyond saying
LANE_VERBS = {"sag": "sag", "round": "become round", "glow": "lose its glow"}
SHORT = {"alike": "alike", "not alike": "not alike", "not enough trials yet": "open"}


def percent(sd_ln: float | None) -> str:
    """A standard deviation of ln t as one would say it."""
    return "–" if sd_ln is None else f"{100 * (exp(sd_ln) - 1):.0f} %"


def ratio(value: float) -> str:
    """A ratio of times, two decimals."""
    return f"{value:.2f}"


def likeness(found: Likeness) -> str:
    """How many times as long, with interval, method and n."""
    if found.comparison is None:
        return found.why
    c = found.comparison
    how = {"measured": "times as measured", "corrected": "times corrected to 2 g"}[found.by]
    return (
        f"{found.first.label} took {ratio(c.ratio)} times as long to {LANE_VERBS[found.lane]} as {found.second.label} "
        f"(95 % interval {ratio(c.low95)} to {ratio(c.high95)}; {how}, ratio of geometric means, Welch's t on logarithms of times, n = {c.n_first} and {c.n_second}; median ratio {ratio(c.median_ratio)})."
        + (" With so few trials the interval is rough: it may hold 87 to 98 of 100." if c.is_thin else "")
        + _mass_words(found)
    )


def _mass_words(found: Likeness) -> str:
    """What unlike masses do to a ratio."""
    if abs(found.mass_gap_ln) < 0.05:
        return ""
    gap = f"The masses differ by a factor of {exp(abs(found.mass_gap_ln)):.2f}"
    if found.by == "measured":
        return f" {gap} and are not corrected for."
    off = exp(table("flame")["mass_exponent"]["u"] * abs(found.mass_gap_ln)) - 1
    return f" {gap}; the correction itself may be off by {100 * off:.0f} %, which the interval does not hold."


def margin(found: Margin | None) -> str:
    """Where the margin comes from."""
    if found is None:
        return "No margin was said for these two, so likeness is not judged."
    how = "with the plan" if found.with_plan else "at the desk"
    when = "before any of these times was known" if found.is_before else "after some of these times could be known, so it binds less"
    return f"Margin {found.percent:g} %, said {how} on {utc(found.at_ms)[:16].replace('T', ' ')} UTC, {when}."


def verdict(found: Likeness) -> str:
    """Alike, not alike, or how many trials are lacking."""
    v = found.verdict
    if v is None:
        return ""
    inside = f"two one-sided Welch tests at 5 %, 90 % interval {ratio(v.low90)} to {ratio(v.high90)}, margins {ratio(v.margin_low)} to {ratio(v.margin_high)}"
    if v.verdict == "alike":
        return f"Within {v.margin_percent:g} % of each other: {inside}."
    if v.verdict == "not alike":
        return f"They differ by more than {v.margin_percent:g} %: {inside}."
    more = f"about {v.more} trials of each in all would settle it" if v.more else "more than 200 trials of each would be needed"
    return f"{inside[0].upper()}{inside[1:]}; {more}, if scatter and ratio stay as they are."


def scatter(found: Components) -> str:
    """Within against between, in one sentence."""
    if not found.can_separate:
        return found.why
    within = f"{percent(found.within_sd)} within one (95 % interval {percent(found.within_low95)} to {percent(found.within_high95)})"
    between = f"{percent(found.between_sd)} between them ({percent(found.between_low95)} to {percent(found.between_high95)})"
    return f"Times scatter by {within} and by {between}: {found.n_times} times of {found.n_groups} glasses and pieces, one-way random effects on logarithms."


def drift(found: Control) -> str:
    """Whether the reference took longer or shorter as the hours went."""
    d = found.drift
    told = ", then ".join(seconds(s) for s in found.times)
    if not d.can_tell:
        return f"The reference took {told} s. {d.why}"
    growth = [100 * (exp(min(x * found.hours[-1], MOST_LN)) - 1) for x in (d.slope, d.low95, d.high95)]
    change = f"{growth[0]:+.0f} % from the first to the last (95 % interval {growth[1]:+.0f} to {growth[2]:+.0f})".replace("-", "−")
    chance = "more than chance alone shows in 19 of 20 sessions" if d.p < table("compare")["level"]["value"] else "which chance alone may show"
    return f"The reference took {told} s: {change}, {chance} (p {'< 0.01' if d.p < 0.01 else f'= {d.p:.2f}'})."


def unknown(found: Told, piece: str, reference: str) -> str:
    """The offset under its only name, or that there is none."""
    if found.offset is None:
        return f"No flame-softening offset of {piece} against {reference} can be given."
    return f"{piece}: {law.words(found.offset, reference)}."


def equivalent(found: Told, soft: dict | None) -> str:
    """The equivalent softening temperature in the flame, where the reference's is known."""
    if found.offset is None or not soft:
        return ""
    value, half = law.equivalent(found.offset, soft["c"], soft["u95_k"])
    return f"Equivalent softening temperature, flame: about {value:.0f} ± {half:.0f} °C (95 %), the reference taken as {soft['c']:.0f} ± {soft['u95_k']:.0f} °C by its estimate."


def between(found: Told) -> str:
    """What two references say."""
    if found.between is None:
        return found.between_refused
    b = found.between
    return f"Between the two references: equivalent softening temperature, flame, about {b.softening_c:.0f} ± {b.u95_k:.0f} °C (95 %, n = {b.n_unknown} + {b.n_cooler} + {b.n_hotter}, same session)."


def together(found: Agreement | None, unit: str) -> str:
    """Whether the lines agree, and what they say together."""
    if found is None:
        return "There is no line of evidence yet."
    head = {True: "The independent lines agree.", False: "The lines do not agree.", None: ""}[found.agrees]
    mean = f" Together: {law.signed_k(found.delta_k)} ± {found.u95_k:.0f} {unit} (95 %)." if found.delta_k is not None else ""
    return f"{head}{mean} {found.why}".strip()


def inside(found: list[Foreseen], stage: str) -> str:
    """How many times lay where they were foreseen."""
    told = []
    for share in (68, 95):
        pairs = [one.inside(stage, share) for one in found]
        told.append((sum(a for a, _n in pairs), sum(n for _a, n in pairs)))
    count = told[0][1]
    if not count:
        return "No time of this stage could be foreseen."
    return f"{told[0][0]} of {count} times lay in the range that should hold 68 of 100, {told[1][0]} of {count} in that for 95 of 100."


def torch(found: Foreseen) -> str:
    """The one number fitted, or why there is none."""
    if found.torch is None:
        return found.why
    t = found.torch
    return " ".join([f"Torch number from the reference: {t.h_w_m2k:.0f} W/(m²K) ± {100 * t.u_ln:.0f} %, effective, no property of the torch.", *(f"{w[0].upper()}{w[1:]}." for w in t.words)])


def _count(n: int, one: str, more: str = "") -> str:
    return f"{n} {one if n == 1 else more or one + 's'}"


def _span(values: list[float]) -> str:
    low, high = min(values), max(values)
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


def exponent() -> str:
    """The power of mass with which times go: '0.40 ± 0.10'."""
    rule = table("flame")["mass_exponent"]
    return f"{rule['value']:.2f} ± {rule['u']:.2f}"


def ranges() -> str:
    """What the ranges of foreseen times rest on."""
    rule = table("flame")["forecast"]
    told = f"sag ± {100 * rule['sag_ln']:.0f} %, rounding by a factor of {rule['round_factor']} ({rule['round_factor_unfitted']} where no rounding of the reference was timed), glow ± {100 * rule['glow_ln']:.0f} %"
    return f"{told} (one standard deviation), widened by the curve and the torch number"


def methods(groups: list[Group], plan: dict | None, by: str) -> str:
    """The methods paragraph of a report."""
    rows = [row for group in groups for row in group.rows]
    if not rows:
        return "No kept trial fits what is asked for."
    masses, heats = [row.mass_g for row in rows], sorted({row.preheat_c for row in rows})
    torches = sorted({row.torch for row in rows if row.torch})
    told = [
        f"{_count(len(rows), 'kept trial')} of {_count(len(groups), 'glass or piece', 'glasses and pieces')}, {_span(masses)} g each, preheated to {' and '.join(f'{t:g}' for t in heats)} °C and held in the flame" + (f" ({'; '.join(torches)})." if torches else "."),
        "Timed were the moments at which a chip had softened and sagged and was evenly round, from the press into the flame, and at which its glow was gone, from the press out of it; presses were recorded on the tablet by a monotonic clock.",
    ]
    if plan:
        blind = "The operator saw only a code on each dish until the session was closed." if plan["is_blind"] else "The operator knew the glasses."
        told.append(f"The order was randomised in {_count(plan['repeats'], 'complete block')} from the seed “{plan['seed']}”{', with the reference first, in the middle and last' if plan['reference'] is not None else ''}. {blind}")
    told.append(f"Times stand {f'corrected to 2 g by the power {exponent()} of mass' if by == 'corrected' else 'as measured'}. Statistics are of logarithms: geometric means with Student's t, ratios with Welch's t, likeness by two one-sided tests at 5 % against a margin.")
    return " ".join(told)
