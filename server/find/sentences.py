"""What stands against using a piece, in words. Pure; its twin is static/find/sentences.js."""

from math import floor

TEST_WORDS = {"flame": "flame test", "fuse": "fuse test", "strip": "strip test", "pull": "pull test", "thread": "thread test"}
UNITS_PER_G = 10_000  # masses are said to 0.1 mg


def grams(mass_g: float) -> str:
    """A mass as it is said, to 0.1 mg, without idle zeros: 2.5, 0.0371; a true minus sign."""
    units = floor(abs(mass_g) * UNITS_PER_G + 0.5)
    whole, rest = divmod(units, UNITS_PER_G)
    text = f"{whole}.{rest:04d}".rstrip("0").rstrip(".")
    return f"−{text}" if mass_g < 0 and units else text


def planned_words(planned_g: float) -> str:
    """What open sessions have planned of a mass, as it stands behind that mass; "" for nothing."""
    return f", of which {grams(planned_g)} g are planned in an open session" if planned_g > 0 else ""


def consent_sentences(facts: dict | None, consent: dict | None, test: str) -> list[str]:
    """What forbids the test; `facts` of the find are None where it is not known."""
    if facts is None:
        return ["The find of this piece is not known here, so neither is the keeper's consent."]
    if consent is None:
        return ["The keeper has not been asked about tests that use the find up."]
    day = f" on {consent['on']}" if consent["on"] else ""
    if consent["state"] == "asked":
        return [f"The keeper was asked{day} and has not answered yet."]
    if consent["state"] == "refused":
        return [f"The keeper refused tests that use the find up{day}."]
    return [] if test in consent["tests"] else [f"The keeper's consent does not name the {TEST_WORDS[test]}."]


def limit_sentences(words: str, limit_g: float | None, gone_g: float, mass_g: float, planned_g: float) -> list[str]:
    """Whether what is gone (used or lost), this mass and what is planned keep within a limit, all in g."""
    total_g = floor((gone_g + mass_g + planned_g) * 1e6 + 0.5) / 1e6
    if limit_g is None or total_g <= limit_g:
        return []
    return [f"With this, {grams(total_g)} g of {words} would be used up or lost{planned_words(planned_g)}; the keeper allows {grams(limit_g)} g."]


def left_sentences(left_g: float | None, mass_g: float | None, planned_g: float) -> list[str]:
    """Whether a piece has so much left beside what is planned of it, all in g; `mass_g` None asks before the mass is known."""
    if left_g is None:
        return ["This piece was never weighed."]
    if left_g == 0:
        return ["Nothing is left of this piece."]
    left, planned, mass = (floor(some_g * 1e6 + 0.5) for some_g in (left_g, planned_g, mass_g or 0))
    if mass_g is None and 0 < left <= planned:
        return [f"{grams(left_g)} g is left{planned_words(planned_g)}."]
    if mass_g is None or mass <= left - planned:
        return []
    if planned > 0:
        return [f"{grams(mass_g)} g is more than is free of the {grams(left_g)} g that is left{planned_words(planned_g)}."]
    return [f"{grams(mass_g)} g is more than the {grams(left_g)} g that is left."]


def due_sentences(facts: dict | None, today: str) -> list[str]:
    """Whether the loan is overdue on a day as 2026-11-25."""
    return [f"The loan was due back on {facts['due']}."] if facts and facts["due"] and facts["due"] < today else []


LIMITS = (("find", "limit_g", "the whole find"), ("piece", "limit_piece_g", "this piece and what was cut off it"))


def against(
    facts: dict | None, consent: dict | None, gone_g: dict[str, float], planned_g: dict[str, float], left_g: float | None, mass_g: float | None, test: str, today: str
) -> list[str]:
    """All of these. `gone_g` is used and lost so far, `planned_g` what open sessions have planned, both of the "find" and of the "piece" with what was cut off it; `planned_g` also of the piece "alone"."""
    said = consent_sentences(facts, consent, test)
    if facts and consent and consent["state"] == "given" and mass_g is not None:
        for name, limit, words in LIMITS:
            said += limit_sentences(words, consent[limit], gone_g[name], mass_g, planned_g[name])
    return said + left_sentences(left_g, mass_g, planned_g["alone"]) + due_sentences(facts, today)
