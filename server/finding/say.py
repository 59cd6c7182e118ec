"""Pure: verdicts in sentences that could stand in a paper."""

from math import exp

from server.finding.foreseen import Foreseen
from server.finding.likeness import Likeness, Margin
from server.finding.scatter import Control
from server.finding.unknown import Told
from server.physics import offset as law
from server.physics.components import Components
from server.trial.results import seconds, utc

MOST_GROUPS = 12
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
    return (
        f"{found.first.label} took {ratio(c.ratio)} times as long to {LANE_VERBS[found.lane]} as {found.second.label} "
        f"(95 % interval {ratio(c.low95)} to {ratio(c.high95)}; ratio of geometric means, Welch's t on logarithms of times, n = {c.n_first} and {c.n_second}; median ratio {ratio(c.median_ratio)})."
    )


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
        return f"Alike within {v.margin_percent:g} %: {inside}."
    if v.verdict == "not alike":
        return f"Not alike: they differ by more than {v.margin_percent:g} %; {inside}."
    more = f"about {v.more} trials of each in all would settle it" if v.more else "more than 200 trials of each would be needed, since the ratio lies near the margin"
    return f"Not enough trials yet: {inside}; {more}, if scatter and ratio stay as they are."


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
    growth = [100 * (exp(x) - 1) for x in (d.slope, d.low95, d.high95)]
    change = f"{growth[0]:+.0f} % an hour (95 % interval {growth[1]:+.0f} to {growth[2]:+.0f})".replace("-", "−")
    chance = "hardly ever shown by chance alone" if d.p < 0.05 else "which chance alone may show"
    return f"The reference took {told} s: {change}, {chance} (p = {d.p:.2f})."


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


def together(found: Told) -> str:
    """Whether the lines agree, and what they say together."""
    if found.together is None:
        return "There is no line of evidence yet."
    a = found.together
    head = {True: "The independent lines agree.", False: "The lines do not agree.", None: ""}[a.agrees]
    mean = f" Together: {law.signed_k(a.delta_k)} ± {a.u95_k:.0f} K (95 %)." if a.delta_k is not None else ""
    return f"{head}{mean} {a.why}".strip()


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
