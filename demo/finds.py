"""Two finds on loan to the invented workshop: consent, pieces, and what became of every gram. All of it is made up."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Protocol

from demo.glasses import GLASSES, INVENTED, KEEPER, NOTE, SITE

FOOT = f"{SITE}, find 17, chip of a vessel foot ({INVENTED})"
PANE = f"{SITE}, find 44, window sherd ({INVENTED})"


class Maker(Protocol):
    """Makes ids and entries as a tablet does."""

    def new_id(self, at_ms: int) -> str: ...

    def entry(self, kind: str, subject: str, n: int, at_ms: float, body: dict) -> dict: ...


@dataclass
class Finds:
    """A tablet on which finds are kept: entries in the order in which they were made."""

    tablet: Maker
    entries: list[dict] = field(default_factory=list)

    def add(self, kind: str, subject: str, day: str, body: dict) -> dict:
        """One entry, a minute after the one before it on that day (from 8:00 UTC)."""
        at_ms = ms_of(day) + 60_000 * sum(1 for entry in self.entries if entry["at_ms"] // 86_400_000 == ms_of(day) // 86_400_000)
        n = sum(1 for entry in self.entries if entry["subject"] == subject)
        self.entries.append(self.tablet.entry(kind, subject, n, at_ms, body))
        return self.entries[-1]

    def find(self, number: str, day: str, due: str, context: str) -> str:
        """A find is opened; its id."""
        key = self.tablet.new_id(ms_of(day))
        facts = {"site": SITE, "context": f"{context} ({INVENTED})", "number": number, "keeper": KEEPER, "loan_from": day, "due": due, "note": NOTE}
        self.add("find.opened", key, day, facts)
        return key

    def consent(self, find: str, state: str, day: str, limits_g: tuple[float | None, float | None], tests: list[str], note: str = "") -> None:
        """A statement of the keeper."""
        body = {"state": state, "by": KEEPER, "on": day, "limit_g": limits_g[0], "limit_piece_g": limits_g[1], "tests": tests, "note": note}
        self.add("find.consent", find, day, body)

    def piece(self, find: str, day: str, label: str, code: str, **facts) -> str:
        """A piece is added; its id."""
        key = self.tablet.new_id(ms_of(day))
        plain = {"colour": "", "opacity": "", "condition": "", "glass_key": None, "glass_name": "", "link": "none", "note": NOTE}
        self.add("piece.added", key, day, {**plain, "find": find, "label": label, "code": code, **facts})
        return key

    def use(self, piece: str, name: str, heated: Iterable[dict]) -> None:
        """What the trials of this piece used up, written down after each."""
        for start in heated:
            if start["body"]["piece"] == name:
                body = {"mass_g": start["body"]["mass_g"], "test": "flame", "trial": start["subject"]}
                n = sum(1 for entry in self.entries if entry["subject"] == piece)
                self.entries.append(self.tablet.entry("piece.used", piece, n, start["at_ms"] + 240_000, body))


def ms_of(day: str) -> int:
    """Epoch ms of 8:00 UTC on a day."""
    return int(datetime.fromisoformat(day).replace(hour=8, tzinfo=UTC).timestamp() * 1000)


def foot(made: Finds, natron_key: str, heated: list[dict]) -> None:
    """Find 17: a vessel foot from which a chip was sawn for the flame."""
    find = made.find("17", "2026-02-16", "2027-02-26", "floor of hut 2")
    made.consent(find, "asked", "2026-02-16", (20.0, 10.0), ["flame", "fuse", "pull"])
    made.consent(find, "given", "2026-03-02", (16.0, 9.0), ["flame", "fuse"], "No pulling; the profile of the foot must stay readable. Invented letter.")
    linked = {"glass_key": natron_key, "glass_name": GLASSES["natron"].name, "link": "like", "colour": "bluish green", "opacity": "lets light through"}
    whole = made.piece(find, "2026-03-02", f"Vessel foot ({INVENTED})", "KF7M4", condition="thin white crust on the break", **linked)
    made.add("piece.weighed", whole, "2026-03-02", {"mass_g": 31.46, "u_g": 0.01})
    chip = made.piece(find, "2026-03-09", f"Chip of the vessel foot ({INVENTED})", "TW3CA", condition="fresh break on three sides", **linked)
    made.add("piece.cut", whole, "2026-03-09", {"into": chip, "mass_g": 8.1})
    made.add("piece.lost", whole, "2026-03-09", {"mass_g": 0.12, "why": "Crumbs at the saw"})
    made.add("piece.weighed", whole, "2026-03-09", {"mass_g": 23.19, "u_g": 0.01})
    wrong = made.add("piece.weighed", chip, "2026-03-09", {"mass_g": 80.6, "u_g": 0.01})
    made.add("piece.undone", chip, "2026-03-09", {"entry": wrong["id"], "why": "The point was typed at the wrong place"})
    made.add("piece.weighed", chip, "2026-03-09", {"mass_g": 8.06, "u_g": 0.01})
    made.use(chip, FOOT, heated)


def pane(made: Finds, heated: list[dict]) -> None:
    """Find 44: two sherds of window glass; one went back."""
    find = made.find("44", "2026-02-20", "2026-12-18", "ditch fill 9")
    made.consent(find, "refused", "2026-02-20", (None, None), [], "The first answer, before the sherds had been drawn. Invented.")
    made.consent(find, "given", "2026-03-06", (7.5, None), ["flame"])
    sherd = made.piece(find, "2026-03-06", f"Window sherd, the larger ({INVENTED})", "9XHE6", colour="pale green", opacity="clear", condition="iridescent skin, a few bubbles")
    made.add("piece.weighed", sherd, "2026-03-06", {"mass_g": 9.37, "u_g": 0.01})
    edge = made.piece(find, "2026-03-06", f"Window sherd with a grozed edge ({INVENTED})", "PV4RJ", colour="pale green", opacity="clear")
    made.add("piece.weighed", edge, "2026-03-06", {"mass_g": 1.24, "u_g": 0.01})
    made.use(sherd, PANE, heated)
    made.add("piece.returned", edge, "2026-03-14", {"mass_g": 1.24, "to": KEEPER})


def find_entries(tablet: Maker, natron_key: str, heated: list[dict]) -> list[dict]:
    """Every entry of both finds; `heated` are the starts of all trials, so that the ledger names what they used up."""
    made = Finds(tablet)
    foot(made, natron_key, heated)
    pane(made, heated)
    return made.entries
