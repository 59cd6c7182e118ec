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
        self.changes: list[tuple[int, str, str]] = []

    def read(self) -> tuple[list[Timed], dict[str, dict]]:
        """(timed trials, the plan entry of each session by its number). `ended` then holds when each blind session was first opened, uncovered or closed, in epoch ms."""
        with self.store.read() as session:
            seen = (log.last_seq(session), bench.last_seq(session, "find", "piece"))
            if seen != self.seen:
                colours = {piece.id: piece.facts.get("colour") or "" for piece in find_log.finds(session).pieces}
                self.rows = timed(log.trials(session), colours)
                told = plan.entries(session)
                self.sessions = {entry["subject"]: entry for entry in told if entry["kind"] == "plan.made"}
                ends = [e for e in told if e["kind"] in ("plan.closed", "plan.unblinded")]  # whoever opens the list can match codes to times
                self.changes = [(e["at_ms"], e["subject"], e["body"]["conditions"]["holder"]) for e in told if e["kind"] in ("plan.made", "plan.conditions")]
                self.ended = {e["subject"]: e["at_ms"] for e in reversed(ends) if self.sessions.get(e["subject"], {}).get("body", {}).get("is_blind")}
                self.seen = seen
        return self.rows, self.sessions

    def holders(self) -> dict[str, str]:
        """Trial -> how its piece was held, as the conditions of its session stood at its start."""
        return {row.trial: self._holder(row) for row in self.rows if row.session}

    def _holder(self, row: Timed) -> str:
        told = [holder for at_ms, session, holder in self.changes if session == row.session and at_ms <= row.started_ms]
        return told[-1] if told else ""
