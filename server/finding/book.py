"""Every timed trial of the bench book, read once for as long as nothing arrives."""

from server.find import log as find_log
from server.finding.selection import Timed, timed
from server.plan import log as plan
from server.store import log as bench
from server.store.engine import Store
from server.trial import log


class Book:
    """Keeps the last reading beside the numbers of the entries that it saw last. Trials of covered sessions are not in it."""

    def __init__(self, store: Store):
        self.store = store
        self.seen = (-1, -1)
        self.rows: list[Timed] = []
        self.sessions: dict[str, dict] = {}
        self.ended: dict[str, int] = {}

    def read(self) -> tuple[list[Timed], dict[str, dict]]:
        """(timed trials, the plan entry of each session by its number). `ended` then holds when each blind session was closed or uncovered, in epoch ms."""
        with self.store.read() as session:
            seen = (log.last_seq(session), bench.last_seq(session, "find", "piece"))
            if seen != self.seen:
                colours = {piece.id: piece.facts.get("colour") or "" for piece in find_log.finds(session).pieces}
                self.rows = timed(log.trials(session), colours)
                told = plan.entries(session)
                self.sessions = {entry["subject"]: entry for entry in told if entry["kind"] == "plan.made"}
                ends = [e for e in told if e["kind"] == "plan.closed" or (e["kind"] == "plan.unblinded" and e["body"]["what"] == "all")]
                self.ended = {e["subject"]: e["at_ms"] for e in reversed(ends) if self.sessions.get(e["subject"], {}).get("body", {}).get("is_blind")}
                self.seen = seen
        return self.rows, self.sessions
