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


def _consent_sentences(consent: dict | None, test: str) -> list[str]:
    if consent is None:
        return ["The keeper has not been asked about tests that use the find up."]
    day = f" on {consent['on']}" if consent["on"] else ""
    if consent["state"] == "asked":
        return [f"The keeper was asked{day} and has not answered yet."]
    if consent["state"] == "refused":
        return [f"The keeper refused tests that use the find up{day}."]
    return [] if test in consent["tests"] else [f"The keeper's consent does not name the {TEST_WORDS[test]}."]


def _limit_sentences(consent: dict, gone_g: dict[str, float], mass_g: float) -> list[str]:
    said = []
    for name, limit, words in (("find", "limit_g", "the whole find"), ("piece", "limit_piece_g", "this piece and what was cut off it")):
        total_g = floor((gone_g[name] + mass_g) * 1e6 + 0.5) / 1e6
        if consent[limit] is not None and total_g > consent[limit]:
            said.append(f"With this, {grams(total_g)} g of {words} would be used up or lost; the keeper allows {grams(consent[limit])} g.")
    return said


def _left_sentences(left_g: float | None, mass_g: float | None) -> list[str]:
    if left_g is None:
        return ["This piece was never weighed."]
    if left_g == 0:
        return ["Nothing is left of this piece."]
    if mass_g is not None and floor(mass_g * 1e6 + 0.5) > floor(left_g * 1e6 + 0.5):
        return [f"{grams(mass_g)} g is more than the {grams(left_g)} g that is left."]
    return []


def against(facts: dict | None, consent: dict | None, gone_g: dict[str, float], left_g: float | None, mass_g: float | None, test: str, today: str) -> list[str]:
    """The sentences; `facts` of the find are None where it is not known. `gone_g` is used and lost so far, of the "find" and of the "piece", g."""
    if facts is None:
        return ["The find of this piece is not known here, so neither is the keeper's consent.", *_left_sentences(left_g, mass_g)]
    said = _consent_sentences(consent, test)
    if consent and consent["state"] == "given" and mass_g is not None:
        said += _limit_sentences(consent, gone_g, mass_g)
    said += _left_sentences(left_g, mass_g)
    if facts["due"] and facts["due"] < today:
        said.append(f"The loan was due back on {facts['due']}.")
    return said
