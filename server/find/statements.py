"""What counts of the statements about a find or piece: its facts, and what its keeper allows. Pure; its twin is static/find/statements.js, and a test holds both together."""

from server.store.latest import disagree, latest

FACTS = ("find.opened", "find.changed", "piece.added", "piece.changed")
CONSENT = "find.consent"
STRICTER = ("given", "asked", "refused")
LIMITS = ("limit_g", "limit_piece_g")
UNTOLD = ("jpeg", "over")


def told(entry: dict) -> dict:
    """The body of an entry with its number and moment, without pictures."""
    return {"entry": entry["id"], "at_ms": entry["at_ms"], **{name: value for name, value in entry["body"].items() if name not in UNTOLD}}


def consent_of(statements: list[dict]) -> dict | None:
    """What counts of the latest statements of the keeper: the strictest, and where all of them agree to tests, what all of them allow."""
    if not statements:
        return None
    strictest = max((one["body"]["state"] for one in statements), key=STRICTER.index)
    counts = told([one for one in statements if one["body"]["state"] == strictest][-1])
    if strictest != "given":
        return counts
    limits = {name: [one["body"][name] for one in statements if one["body"][name] is not None] for name in LIMITS}
    tests = [test for test in counts["tests"] if all(test in one["body"]["tests"] for one in statements)]
    return {**counts, "tests": tests, **{name: min(found, default=None) for name, found in limits.items()}}


class Statements:
    """All statements of one matter, gathered by the find or piece that they are about, in the order in which it was first heard of."""

    def __init__(self):
        self.every: dict[str, list[dict]] = {}

    def add(self, entry: dict) -> None:
        """One more."""
        self.every.setdefault(entry["subject"], []).append(entry)

    def latest(self, subject: str) -> list[dict]:
        """Those that count, or wait to be settled."""
        return latest(self.every.get(subject, []))


def numbers(statements: list[dict]) -> list[str]:
    """Their numbers, for a new one that comes after them."""
    return [one["id"] for one in statements]


def unsettled(**matters: list[dict]) -> list[str]:
    """The matters of which the latest statements say different things."""
    return [matter for matter, statements in matters.items() if disagree(statements)]
