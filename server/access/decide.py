"""Whether a request is let in, and as whom. Knows no web framework: server/web/gate.py asks."""

import time
from dataclasses import dataclass

from server.access import passes
from server.access.rights import ANYBODY, DESK, may
from server.errors import Unavailable
from server.store.engine import Store
from server.web.door import DESK as DESK_DOOR
from server.web.gate import Asked, Decision

NO_PASS = "This desk does not know this device yet. Ask for a code at the desk, on the page “Devices”, and join."
REVOKED = "The desk has taken this device’s pass back. What was recorded here stays here and is not lost: ask at the desk for a new code, or save it to a file."
NOT_ALLOWED = "This is not for guests. Ask at the desk."
NOT_FROM_HERE = "This is done at the desk itself."
RENEW_AFTER_MS = 24 * 3600 * 1000


@dataclass
class Gatekeeper:
    """Decides for one bench book."""

    store: Store

    def at_once(self, asked: Asked) -> Decision | None:
        """What is plain without looking into the book; None where it is not."""
        if asked.door == DESK_DOOR:
            return Decision(role=DESK)
        return Decision(role=ANYBODY) if may(ANYBODY, asked.method, asked.path) else None

    def __call__(self, asked: Asked) -> Decision:
        return self.at_once(asked) or self._by_pass(asked)

    def _by_pass(self, asked: Asked) -> Decision:
        if not asked.token:
            return Decision(ANYBODY, 401, "no_pass", NO_PASS)
        with self.store.read() as session:
            found = passes.known(session, asked.token)
        if found is None:
            return Decision(ANYBODY, 401, "no_pass", NO_PASS)
        if found.is_revoked:
            return Decision(ANYBODY, 401, "pass_revoked", REVOKED)
        if not may(found.role, asked.method, asked.path):
            return Decision(found.role, 403, "not_allowed", NOT_FROM_HERE if found.role != "guest" else NOT_ALLOWED)
        return Decision(found.role, device=found.name, renew=self._seen(found) and not asked.is_bearer)

    def _seen(self, found: passes.Known) -> bool:
        """Note the visit, once a minute; True once a day, when the cookie is given anew."""
        now_ms = int(time.time() * 1000)
        if now_ms - found.seen_ms < passes.SEEN_EVERY_MS:
            return False
        try:
            with self.store.write() as session:
                passes.seen(session, found.id, now_ms)
        except Unavailable:
            return False  # a full disk bars nobody from reading
        return now_ms - found.seen_ms > RENEW_AFTER_MS
