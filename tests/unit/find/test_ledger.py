"""What became of every gram: worked by hand, and a machine that writes any acts in any order.

The rule is conservation of mass, so each check adds up what went where; no figure comes from the code under test.
"""

from decimal import Decimal
from operator import attrgetter
from random import Random

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from server.find.ledger import Finds, finds_from, may_use
from server.find.sentences import grams
from tests import finds as f
from tests.entries import WALL_0

TODAY = "2026-11-25"


def at(step: int) -> int:
    return WALL_0 + step * 1000


def exact(mass_g: float) -> Decimal:
    """Grams to the microgram; the repr of a float that came from whole micrograms."""
    return Decimal(repr(mass_g)).quantize(Decimal("0.000001"))


def balance(of) -> Decimal:
    """Start less everything that it became; nothing where the book balances."""
    columns = (of.cut_g, of.used_g, of.lost_g, of.returned_g, of.unaccounted_g)
    return exact(of.start_g) - exact(of.left_g or 0.0) - sum(map(exact, columns))


def test_a_piece_from_the_bag_to_the_last_crumb():
    find, whole, chip = f.subject(), f.subject(), f.subject()
    entries = [
        f.opened(find), f.added(whole, find), f.added(chip, find, code="TW3CA"),
        f.weighed(whole, 10.0, at(1)), f.cut(whole, chip, 4.1, at(2)), f.lost(whole, 0.2, at_ms=at(3)), f.weighed(whole, 5.6, at(4)),
        f.weighed(chip, 4.06, at(5)), f.used(chip, 2.0, at_ms=at(6)), f.returned(whole, 5.6, at_ms=at(7)),
    ]
    found = finds_from(entries)
    big, small = found.pieces
    # 10 − 4.1 − 0.2 = 5.7, but the scales say 5.6: 0.1 is dust. 4.1 came, 4.06 weighed: 0.04. 4.06 − 2 = 2.06 left.
    assert (big.start_g, big.left_g, big.cut_g, big.lost_g, big.returned_g, big.unaccounted_g) == (10.0, 0.0, 4.1, 0.2, 5.6, 0.1)
    assert (small.start_g, small.left_g, small.used_g, small.unaccounted_g, small.root) == (4.1, 2.06, 2.0, 0.04, whole)
    assert [row.left_g for row in big.rows] == [10.0, 5.9, 5.7, 5.6, 0.0]
    assert [row.unaccounted_g for row in big.rows] == [0.0, 0.0, 0.0, 0.1, 0.0]
    assert (found.finds[0].start_g, found.finds[0].left_g, found.finds[0].gone_g) == (10.0, 2.06, 2.2)


def test_tenths_stay_tenths():
    """0.1 + 0.2 is not 0.3 in floating point; the ledger says 0.3."""
    find, piece = f.subject(), f.subject()
    entries = [f.opened(find), f.added(piece, find), f.weighed(piece, 0.3), *(f.used(piece, mass_g, at_ms=at(i + 1)) for i, mass_g in enumerate((0.1, 0.2)))]
    [one] = finds_from(entries).pieces
    assert (one.left_g, one.used_g, one.over_g) == (0.0, 0.3, 0.0)


def test_two_tablets_overdraw_together_and_it_is_said():
    find, piece = f.subject(), f.subject()
    entries = [f.opened(find), f.added(piece, find), f.weighed(piece, 3.0, at(1)), f.used(piece, 2.0, at_ms=at(2)), f.used(piece, 2.0, at_ms=at(3), device=f.OTHER_DEVICE)]
    [one] = finds_from(entries).pieces
    assert (one.left_g, one.used_g, one.over_g, one.unaccounted_g) == (0.0, 4.0, 1.0, -1.0)
    assert [row.over_g for row in one.rows] == [0.0, 0.0, 1.0]
    assert balance(one) == 0


def test_a_row_taken_back_stays_and_does_nothing():
    find, piece, child = f.subject(), f.subject(), f.subject()
    wrong, saw = f.weighed(piece, 80.6, at(2)), f.cut(piece, child, 1.0, at(3))
    entries = [f.opened(find), f.added(piece, find), f.added(child, find), f.weighed(piece, 8.0, at(1)), wrong, saw, f.undone(wrong, "point", at(4)), f.undone(saw, at_ms=at(5))]
    one, other = finds_from(entries).pieces
    assert (one.left_g, one.unaccounted_g, one.cut_g) == (8.0, 0.0, 0.0)
    assert [(row.struck, row.why) for row in one.rows] == [(False, ""), (True, "point"), (True, "typed wrong")]
    assert (other.left_g, [row.struck for row in other.rows]) == (None, [True])


def test_another_piece_cannot_take_a_row_back():
    find, piece, other = f.subject(), f.subject(), f.subject()
    row = f.weighed(piece, 8.0)
    [one] = finds_from([f.opened(find), f.added(piece, find), row, f.undone({**row, "subject": other})]).pieces
    assert one.left_g == 8.0 and not one.rows[0].struck


def test_changed_facts_count_and_the_last_statement_of_the_keeper():
    find = f.subject()
    changed = f.opened(find, number="18") | {"kind": "find.changed", "at_ms": at(9)}
    statements = [f.consent(find, at(step), state=state) for step, state in ((3, "given"), (1, "asked"), (2, "refused"))]
    [one] = finds_from([changed, *statements, f.opened(find)]).finds
    assert one.facts["number"] == "18"
    assert ([said["state"] for said in one.consents], one.consent["state"]) == (["asked", "refused", "given"], "given")


def with_consent(mass_g: float | None = 10.0, facts=None, **said) -> tuple[Finds, list[dict]]:
    find, piece, chip = f.subject(), f.subject(), f.subject()
    entries = [f.opened(find, **(facts or {})), f.added(piece, find), f.added(chip, find)]
    entries += [f.consent(find, **said)] if said else []
    entries += [f.weighed(piece, mass_g, at(1)), f.cut(piece, chip, 4.0, at(2)), f.used(chip, 1.5, at_ms=at(3)), f.lost(piece, 0.5, at_ms=at(4))] if mass_g else []
    return finds_from(entries), entries


@pytest.mark.parametrize(("said", "mass_g", "test", "words"), [
    ({}, 1.0, "flame", ["has not been asked"]),
    ({"state": "asked", "on": "2026-02-01"}, 1.0, "flame", ["was asked on 2026-02-01 and has not answered"]),
    ({"state": "refused"}, 1.0, "flame", ["refused tests that use the find up"]),
    ({"state": "given"}, 1.0, "flame", []),
    ({"state": "given"}, 1.0, "pull", ["does not name the pull test"]),
    ({"state": "given", "limit_g": 3.0}, 1.0, "flame", []),
    ({"state": "given", "limit_g": 3.0}, 1.0001, "flame", ["3.0001 g of the whole find", ]),
    ({"state": "given", "limit_piece_g": 2.5}, 1.0, "flame", ["3 g of this piece and what was cut off it"]),
    ({"state": "given", "limit_g": 2.0, "limit_piece_g": 2.0}, None, "flame", []),
    ({"state": "given"}, 2.6, "flame", ["2.6 g is more than the 2.5 g that is left"]),
])
def test_what_stands_against_a_use(said, mass_g, test, words):
    """2 g is used or lost so far: 1.5 of the chip, 0.5 of the piece it came from. 2.5 g of the chip is left."""
    found, _ = with_consent(**said)
    sentences = may_use(found.finds[0], found.pieces, found.pieces[1], mass_g, test, TODAY)
    assert len(sentences) == len(words)
    for sentence, word in zip(sentences, words, strict=True):
        assert word in sentence and sentence.endswith(".")


@pytest.mark.parametrize(("said", "mass_g", "planned", "words"), [
    ({"limit_g": 3.0}, 0.5, {1: 0.5}, []),
    ({"limit_g": 3.0}, 0.5, {0: 0.4, 1: 0.2}, ["With this, 3.1 g of the whole find would be used up or lost, of which 0.6 g are planned in an open session; the keeper allows 3 g."]),
    ({"limit_piece_g": 3.0}, 0.5, {0: 0.6}, ["With this, 3.1 g of this piece and what was cut off it would be used up or lost, of which 0.6 g are planned in an open session; the keeper allows 3 g."]),
    ({}, 0.5, {1: 2.0}, []),
    ({}, 0.6, {0: 4.0, 1: 2.0}, ["0.6 g is more than is free of the 2.5 g that is left, of which 2 g are planned in an open session."]),
    ({}, None, {1: 2.4}, []),
    ({}, None, {1: 2.5}, ["2.5 g is left, of which 2.5 g are planned in an open session."]),
    ({"state": "refused"}, None, {}, ["The keeper refused tests that use the find up on 2026-02-01."]),
])
def test_what_open_sessions_have_planned_counts_as_if_it_were_gone(said, mass_g, planned, words):
    """2 g is used or lost so far, and 2.5 g of the chip (piece 1) is left, as above; `planned` is g by the place of the piece."""
    found, _ = with_consent(**{"state": "given", **said})
    by_id = {found.pieces[place].id: some_g for place, some_g in planned.items()}
    assert may_use(found.finds[0], found.pieces, found.pieces[1], mass_g, "flame", TODAY, by_id) == words


def test_a_piece_never_weighed_an_overdue_loan_and_a_find_that_is_not_known():
    found, _ = with_consent(mass_g=None, facts={"due": "2026-11-24"}, state="given")
    said = may_use(found.finds[0], found.pieces, found.pieces[0], 1.0, "flame", TODAY)
    assert said == ["This piece was never weighed.", "The loan was due back on 2026-11-24."]
    assert may_use(found.finds[0], found.pieces, found.pieces[0], 1.0, "flame", "2026-11-24") == ["This piece was never weighed."]
    assert "is not known here" in may_use(None, found.pieces, found.pieces[0], 1.0, "flame", TODAY)[0]


def test_nothing_left_is_said_so():
    find, piece = f.subject(), f.subject()
    found = finds_from([f.opened(find), f.added(piece, find), f.consent(find), f.weighed(piece, 1.0), f.returned(piece, 1.0, at_ms=at(1))])
    assert may_use(found.finds[0], found.pieces, found.pieces[0], 0.5, "flame", TODAY) == ["Nothing is left of this piece."]


@pytest.mark.parametrize(("mass_g", "said"), [(0, "0"), (2.5, "2.5"), (10, "10"), (0.0371, "0.0371"), (1.00004, "1"), (-0.04, "−0.04"), (0.00005, "0.0001"), (1234.5, "1234.5")])
def test_masses_are_said_without_idle_zeros(mass_g, said):
    assert grams(mass_g) == said


def test_any_order_of_arrival_and_any_repeat_give_the_same_finds():
    for seed in range(60):
        entries = f.history(seed)
        again = [*entries, *entries[:5]]
        Random(seed).shuffle(again)
        one, other = finds_from(entries), finds_from(again)
        for some, again in ((one.pieces, other.pieces), (one.finds, other.finds)):
            assert sorted(some, key=attrgetter("id")) == sorted(again, key=attrgetter("id"))


def test_the_made_histories_hold_everything_that_can_happen():
    found = [finds_from(f.history(seed)) for seed in range(200)]
    pieces = [piece for one in found for piece in one.pieces]
    rows = [row for piece in pieces for row in piece.rows]
    assert {row.act for row in rows} == {"weighed", "cut", "came", "used", "lost", "returned"}
    assert any(row.struck for row in rows) and any(row.over_g for row in rows) and any(row.unaccounted_g < 0 < row.mass_g for row in rows)
    assert any(piece.photos for piece in pieces) and any(piece.root != piece.id for piece in pieces) and any(piece.left_g is None for piece in pieces)


class Ledger(RuleBasedStateMachine):
    """Two tablets with clocks of their own write any acts about four pieces; whatever arrives, the book balances."""

    @initialize()
    def open(self):
        self.find = f.subject()
        self.pieces = [f.subject() for _ in range(4)]
        self.entries = [f.opened(self.find), *(f.added(piece, self.find) for piece in self.pieces)]
        self.weighings = 0

    @rule(seed=st.integers(0, 2**32))
    def any_act(self, seed):
        self.entries.append(f.any_act(Random(seed), self.pieces, self.entries))

    @rule(piece=st.integers(0, 3), micrograms=st.integers(1, 9_000_000), kind=st.sampled_from([f.used, f.lost, f.returned]))
    def take_what_the_page_allows(self, piece, micrograms, kind):
        """An act after all others, no more than is left: it never overdraws further."""
        before = finds_from(self.entries).pieces[piece]
        mass_g = micrograms / 1e6
        if before.left_g is None or mass_g > before.left_g:
            return
        self.entries.append(kind(self.pieces[piece], mass_g, at_ms=WALL_0 + 1000 + len(self.entries)))
        after = finds_from(self.entries).pieces[piece]
        assert exact(after.left_g) == exact(before.left_g) - exact(mass_g)
        assert after.over_g == before.over_g

    @rule(piece=st.integers(0, 3), micrograms=st.integers(0, 9_000_000))
    def weigh_last(self, piece, micrograms):
        """A weighing after all others: that is what is left."""
        self.entries.append(f.weighed(self.pieces[piece], micrograms / 1e6, WALL_0 + 1000 + len(self.entries)))
        assert finds_from(self.entries).pieces[piece].left_g == micrograms / 1e6

    @invariant()
    def nothing_is_below_nothing_and_all_balances(self):
        found = finds_from(getattr(self, "entries", []))
        for piece in found.pieces:
            assert piece.left_g is None or piece.left_g >= 0
            assert all(row.left_g is None or row.left_g >= 0 for row in piece.rows)
            assert balance(piece) == 0
            assert sum(exact(row.change_g) for row in piece.rows) == exact(piece.left_g or 0.0)
        for find in found.finds:
            columns = [piece.returned_g for piece in found.pieces] + [piece.unaccounted_g for piece in found.pieces]
            assert exact(find.start_g) == exact(find.left_g or 0.0) + exact(find.gone_g) + sum(map(exact, columns))


TestLedger = Ledger.TestCase
TestLedger.settings = settings(max_examples=60, stateful_step_count=25, deadline=None)
