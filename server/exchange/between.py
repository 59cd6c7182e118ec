"""Two books are brought to hold the same, both ways. Each step is kept in the transaction that made it, so an end at any moment loses nothing and the next run goes on from there."""

import json
from collections.abc import Callable
from dataclasses import dataclass, field

from server import __version__
from server.errors import Differs, Unavailable
from server.exchange import peers
from server.exchange.gaps import joined, step, stored_last
from server.exchange.peers import Progress, Refusal
from server.exchange.remote import Other, Pushed, TooLarge
from server.store.engine import Store
from server.sync import feed
from server.sync.feed import START, Mark
from server.sync.push import Batch, push

TOO_LARGE = "This entry is larger than the other machine takes at once (ISOKOM_MAX_BODY_BYTES there)."


@dataclass
class Told:
    """What an exchange did: entries that were new there and here, those that were there already, and refusals with their reasons."""

    sent: int = 0
    sent_same: int = 0
    came: int = 0
    came_same: int = 0
    refused_there: dict[str, int] = field(default_factory=dict)
    refused_here: dict[str, int] = field(default_factory=dict)
    was_set_back: bool = False

    @property
    def sentence(self) -> str:
        """As one would say it."""
        parts = [f"{self.sent:,} sent, {self.came:,} came" if self.sent or self.came else "Nothing was new on either side"]
        if self.was_set_back:
            parts.append("the other book had been set back to an older copy, so everything was offered again")
        for where, found in (("there", self.refused_there), ("here", self.refused_here)):
            if found:
                parts.append(f"{sum(found.values()):,} refused {where} ({', '.join(list(found)[:2])[:160]})")
        return "; ".join(parts) + "."


class _SetBack(Exception):
    """The other book is not the one it was."""


def _without(refused: list[Refusal], ids: set[str]) -> list[Refusal]:
    return [one for one in refused if one.id not in ids]


class Exchange:
    """One run between this book and another machine. `clock` gives epoch ms; `say` is told how far it is."""

    def __init__(self, store: Store, peer_id: str, other: Other, clock: Callable[[], int], say: Callable[[Told], None] = lambda _told: None):
        self.store, self.peer_id, self.other, self.clock, self.say = store, peer_id, other, clock, say
        self.told = Told()
        with store.read() as session:
            self.state = peers.progress(session, peer_id)

    def run(self) -> Told:
        """Push what is new here, then pull what is new there. Raises Unavailable or Refused; what was done until then stays done."""
        self._after_an_update()
        try:
            self._both_ways()
        except _SetBack:
            self._begin_anew()
        with self.store.write() as session:
            peers.save(session, self.peer_id, self.state, self.told.sentence, self.clock())
        return self.told

    def _begin_anew(self) -> None:
        self.told.was_set_back = True
        self._keep(pulled=START, pushed=START, head=START, theirs=[], ours=[])
        try:
            self._both_ways()
        except _SetBack as error:
            raise Unavailable("The other book changed under the exchange, as when an older copy of it is put back. Run it again.") from error

    def _after_an_update(self) -> None:
        """What an older version here could not take may be taken now."""
        if self.state.version != __version__ and self.state.refused_here:
            self._keep(pulled=START, theirs=[])
        self.state = self.state.model_copy(update={"version": __version__, "refused_here": 0 if self.state.version != __version__ else self.state.refused_here})

    def _both_ways(self) -> None:
        if not self.other.place(self.state.head).known:
            raise _SetBack
        self._own_book_is_whole()
        self._offer_refused()
        self._push_all()
        try:
            self._pull_all()
        except Differs as error:
            raise _SetBack from error

    def _own_book_is_whole(self) -> None:
        """A book that was set back by hand under its own progress begins anew."""
        with self.store.read() as session:
            if not feed.knows(session, self.state.pushed):
                self._keep(pushed=START, ours=[])

    def _keep(self, **changed) -> None:
        self.state = self.state.model_copy(update=changed)
        with self.store.write() as session:
            peers.save(session, self.peer_id, self.state)

    def _offer_refused(self) -> None:
        """What the other side would not take, it may take by now."""
        wanted = [one.id for one in self.state.refused]
        if not wanted:
            return
        with self.store.read() as session:
            entries = feed.named(session, wanted)
        for start in range(0, len(entries), 100):
            self._hand_over(entries[start : start + 100], self.state.pushed)

    def _push_all(self) -> None:
        more = True
        while more:
            ahead, after, until = step(self.state.ours, self.state.pushed)
            with self.store.read() as session:
                entries, last, more = feed.page(session, after, until)
            more = more or bool(ahead)
            if entries:
                self._hand_over(entries, last)
            else:
                self._keep(pushed=ahead[0].last if ahead and last == self.state.pushed else last, ours=ahead)

    def _hand_over(self, entries: list[str], last: Mark) -> None:
        """Push some entries; `last` is the place after them. A batch that is too large is halved, so that one entry does not hold back the others."""
        try:
            answer = self.other.push(entries, self.state.head)
        except TooLarge:
            return self._in_halves(entries, last)
        if len(answer.verdicts) != len(entries):
            raise Unavailable("The other machine did not say what became of each entry. Nothing counts as handed over; run it again.")
        if not answer.known:
            raise _SetBack
        return self._handed_over(answer, last)

    def _handed_over(self, answer: Pushed, last: Mark) -> None:
        """Count a batch and keep how far it is."""
        words = [verdict.verdict for verdict in answer.verdicts]
        stored, refused = words.count("stored"), [Refusal(id=one.id, message=one.message[:200]) for one in answer.verdicts if one.verdict not in ("stored", "same")]
        self.told.sent += stored
        self.told.sent_same += words.count("same")
        for one in refused:
            self.told.refused_there[one.message] = self.told.refused_there.get(one.message, 0) + 1
        ours = [gap for gap in self.state.ours if gap.last.seq > last.seq]
        still = _without(self.state.refused, {one.id for one in answer.verdicts})
        self._keep(pushed=last, ours=ours, head=answer.head, theirs=joined(self.state.theirs, stored_last(answer.head, stored)), refused=[*still, *refused])
        self.say(self.told)

    def _in_halves(self, entries: list[str], last: Mark) -> None:
        if len(entries) == 1:
            number = json.loads(entries[0])["id"]
            self.told.refused_there[TOO_LARGE] = self.told.refused_there.get(TOO_LARGE, 0) + 1
            return self._keep(pushed=last, refused=[*_without(self.state.refused, {number}), Refusal(id=number, message=TOO_LARGE)])
        middle = len(entries) // 2
        self._hand_over(entries[:middle], self.state.pushed)
        return self._hand_over(entries[middle:], last)

    def _pull_all(self) -> None:
        more = True
        while more:
            ahead, after, until = step(self.state.theirs, self.state.pulled)
            page = self.other.feed(after, until)
            more = page.more or bool(ahead)
            self._take(page.entries, page.next, ahead)

    def _take(self, entries: list[dict], last: Mark, ahead: list) -> None:
        """Store some entries of theirs, and how far it is, in one transaction."""
        with self.store.write() as session:
            verdicts = push(session, Batch(entries=entries), self.clock())
            head, stored = feed.head(session), sum(verdict.verdict == "stored" for verdict in verdicts)
            refused = [verdict.message for verdict in verdicts if verdict.verdict == "refused"]
            theirs = [gap for gap in ahead if gap.last.seq > last.seq]
            seen = max(self.state.head, last, key=lambda mark: mark.seq)
            state = {"pulled": last, "theirs": theirs, "head": seen, "ours": joined(self.state.ours, stored_last(head, stored)), "refused_here": self.state.refused_here + len(refused)}
            made = self.state.model_copy(update=state)
            peers.save(session, self.peer_id, made)
        self.state = made
        self.told.came += stored
        self.told.came_same += sum(verdict.verdict == "same" for verdict in verdicts)
        for message in refused:
            self.told.refused_here[message] = self.told.refused_here.get(message, 0) + 1
        self.say(self.told)
