"""Three servers and three tablets: whatever is pressed, sent, fetched, lost, restarted and put back from an old copy, in the end every press that was confirmed to a person is stored exactly once on every machine.

`python -m tests.faults.test_convergence 2000` runs so many histories by hand, and says how many ran.
"""

import sys
import tempfile
import uuid
from collections import Counter
from contextlib import suppress
from pathlib import Path

from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, precondition, rule, run_state_machine_as_test

from server.app import create_app
from server.settings import Settings
from server.store import migrate
from server.store.engine import Store
from server.trial import log
from server.trial.timing import trial_from
from tests.entries import entry, pressed, stamp, started
from tests.machines import Lost, Server, Tablet, exchange

HISTORIES_IN_CI, STEPS = 8, 30
RAN: Counter = Counter()
WHO = st.integers(0, 2)
BREAK = st.sampled_from(["", "", "", "asked", "answered"])


def broken_at(how: str, at: int):
    """What is asked before each message: how the line breaks there, "" where it holds."""
    count = iter(range(1000))

    def asked() -> str:
        if next(count) != at or not how:
            return ""
        RAN["lines broken"] += 1
        return how

    return asked


class Ground:
    """What all histories share: the app, and an empty book to copy. Made once."""

    def __init__(self):
        self.folder = Path(tempfile.mkdtemp(prefix="isokom-convergence-"))
        self.app = create_app(Settings(database=self.folder / "app.db"))
        self.app.state.store.close()  # each server brings its own
        store = Store(self.folder / "empty.db")
        migrate.upgrade(store)
        store.close()
        self.empty = Server(self.app, self.folder / "empty.db")

    def server(self, name: str) -> Server:
        return Server(self.app, self.empty.copy(self.folder / f"{name}-{uuid.uuid4().hex[:8]}.db"))


class Machines(RuleBasedStateMachine):
    """Tablets press and send to whichever server is near; servers exchange; lines break; servers restart, and are put back to older copies."""

    ground: Ground

    @initialize()
    def begin(self):
        self.servers = [self.ground.server(name) for name in ("laptop", "desk", "bench")]
        self.tablets = [Tablet() for _ in range(3)]
        self.near = [0, 1, 2]
        self.copies: list[tuple[int, Path]] = []
        self.trials: list[tuple[int, str]] = []
        RAN["histories"] += 1

    @rule(who=WHO)
    def press(self, who):
        """A trial is begun: its start and first press."""
        subject = str(uuid.uuid4())
        for one in (started(subject), pressed(subject, 1, stamp("sagged", 14))):
            self.tablets[who].record(one)
        self.trials.append((who, subject))
        RAN["presses"] += 2

    @precondition(lambda self: self.trials)
    @rule(data=st.data(), shift=st.integers(-5000, 5000))
    def correct(self, data, shift):
        """A press is moved, on its own tablet or on another that knows the trial: both statements stay."""
        owner, subject = data.draw(st.sampled_from(self.trials))
        press = next(e for e in self.tablets[owner].entries.values() if e["subject"] == subject and e["kind"] == "trial.pressed")
        tablet = self.tablets[data.draw(WHO)]
        n = 2 + sum(e["subject"] == subject for e in tablet.entries.values())
        tablet.record(entry("trial.corrected", subject, n, {"entry": press["id"], "shift_ms": float(shift), "reason": "late", "text": ""}))
        RAN["corrections"] += 1

    @rule(who=WHO, how=BREAK, at=st.integers(0, 2))
    def send(self, who, how, at):
        self._flush(who, how, at)

    @rule(who=WHO, near=WHO)
    def carry(self, who, near):
        """The tablet is taken to another server, at the same address."""
        self.near[who] = near

    @rule(pair=st.permutations(range(3)), how=BREAK, at=st.integers(0, 6))
    def exchange(self, pair, how, at):
        exchange(self.servers[pair[0]], self.servers[pair[1]], broken_at(how, at))
        RAN["exchanges"] += 1

    @rule(who=WHO)
    def restart(self, who):
        self.servers[who].restart()

    @rule(who=WHO)
    def copy(self, who):
        self.copies.append((who, self.servers[who].copy(self.ground.folder / f"{uuid.uuid4().hex}.db")))

    @precondition(lambda self: self.copies)
    @rule(data=st.data())
    def put_back(self, data):
        who, copy = data.draw(st.sampled_from(self.copies))
        self.servers[who].put_back(copy)
        RAN["put back"] += 1

    @rule(who=WHO, pair=st.permutations(range(3)), grown=st.booleans())
    def put_back_after_a_reply(self, who, pair, grown):
        """What was confirmed a moment ago, to a tablet and to another server, is gone again; the numbers may have grown past the place since."""
        one, other = pair[0], pair[1]
        self.near[who] = other
        copy = self.servers[other].copy(self.ground.folder / f"{uuid.uuid4().hex}.db")
        self.copies.append((other, copy))
        self.press(who)
        self._flush(who, "", 0)
        exchange(self.servers[one], self.servers[other])
        self.servers[other].put_back(copy)
        if grown:
            third = next(tablet for tablet in range(3) if tablet != who)
            self.near[third] = other
            for _ in range(2):
                self.press(third)
            self._flush(third, "", 0)
        RAN["put back"] += 1

    def _flush(self, who: int, how: str, at: int) -> None:
        with suppress(Lost):
            self.tablets[who].flush(self.servers[self.near[who]], broken_at(how, at))

    def teardown(self):
        """Quiet at last: everybody sends and exchanges without a break. Then all hold the same."""
        if not hasattr(self, "servers"):
            return
        try:
            self._settle()
            self._agree()
        finally:
            for server in self.servers:
                server.store.close()
                for file in self.ground.folder.glob(f"{server.file.name}*"):
                    file.unlink()
            for _who, copy in self.copies:
                copy.unlink(missing_ok=True)

    def _settle(self):
        for _ in range(2):
            for who in range(3):
                self._flush(who, "", 0)
                self._flush(who, "", 0)
            for one, other in ((0, 1), (1, 2), (2, 0), (0, 1)):
                exchange(self.servers[one], self.servers[other])

    def _agree(self):
        made = {key: one for tablet in self.tablets for key, one in tablet.entries.items()}
        held = [server.ids() for server in self.servers]
        for ids in held:
            assert len(ids) == len(set(ids)) and set(ids) == set(made)
        assert all(all(tablet.sent.values()) for tablet in self.tablets)
        for _who, subject in self.trials:
            assert len({repr(self._trial(server, subject)) for server in self.servers}) == 1

    @staticmethod
    def _trial(server: Server, subject: str):
        with server.store.read() as session:
            return trial_from(log.entries_of(session, subject))


def run(histories: int, phases=(Phase.explicit, Phase.reuse, Phase.generate)) -> None:
    """So many histories. Raises AssertionError with one that breaks a promise; the shortest one only where Phase.shrink is asked for, which takes minutes."""
    Machines.ground = Ground()
    run_state_machine_as_test(Machines, settings=settings(max_examples=histories, stateful_step_count=STEPS, deadline=None, phases=phases, suppress_health_check=list(HealthCheck)))


def test_all_machines_come_to_hold_the_same():
    RAN.clear()
    run(HISTORIES_IN_CI)
    assert RAN["histories"] >= HISTORIES_IN_CI and RAN["presses"] > 50 and RAN["put back"] > 0 and RAN["lines broken"] > 0


if __name__ == "__main__":
    run(int(sys.argv[1]) if len(sys.argv) > 1 else 500, tuple(Phase))
    sys.stdout.write(f"{dict(RAN)}\n")
