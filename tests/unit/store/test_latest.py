"""Which of several statements counts, against the happened-before relation of L. Lamport, "Time, clocks, and the ordering of events in a distributed system", CACM 21 (1978) 558-565, reckoned from what each machine had read."""

from random import Random

from server.store.latest import disagree, latest
from tests.entries import WALL_0, new_id


def statement(at_ms: int, over: list[str] | None = None, **body) -> dict:
    return {"id": new_id(), "at_ms": WALL_0 + at_ms, "body": body | ({} if over is None else {"over": over})}


def ids(statements: list[dict]) -> list[str]:
    return [one["id"] for one in statements]


def test_without_a_word_of_order_the_clock_decides():
    first, second = statement(1, word="a"), statement(2, word="b")
    assert latest([second, first]) == [second]
    assert latest([]) == []


def test_a_statement_comes_after_those_that_it_names_whatever_the_clock_says():
    first = statement(900, [], word="a")
    second = statement(2, [first["id"]], word="b")
    assert latest([first, second]) == [second]


def test_two_that_know_nothing_of_each_other_both_stay_and_the_later_is_last():
    root = statement(1, [], word="a")
    one, other = statement(3, [root["id"]], word="b"), statement(2, [root["id"]], word="c")
    assert latest([one, root, other]) == [other, one]
    settled = statement(0, ids([one, other]), word="c")
    assert latest([settled, one, root, other]) == [settled]


def test_a_first_statement_on_each_of_two_machines_is_a_difference():
    one, other = statement(1, [], word="a"), statement(2, [], word="b")
    assert latest([one, other]) == [one, other] and disagree([one, other])


def test_what_opens_a_matter_comes_before_all_else():
    opened, changed = statement(9, word="a") | {"kind": "find.opened"}, statement(1, word="b") | {"kind": "find.changed"}
    assert latest([opened, changed]) == [changed] and latest([opened]) == [opened]


def test_the_same_said_twice_is_none():
    one, other = statement(1, [], word="a"), statement(2, [], word="a")
    assert not disagree([one, other]) and not disagree([one]) and not disagree([])


def test_statements_that_name_each_other_or_themselves_leave_the_last():
    one, other = statement(1, [], word="a"), statement(2, [], word="b")
    one["body"]["over"], other["body"]["over"] = [other["id"]], [one["id"]]
    assert latest([one, other]) == [other]
    alone = statement(1, [], word="a")
    alone["body"]["over"] = [alone["id"]]
    assert latest([alone]) == [alone]


def a_history(dice: Random) -> tuple[list[dict], dict[str, set[str]], list[list[dict]]]:
    """Statements of three machines with clocks of their own that read each other now and then: (all, what happened before each, what each machine holds)."""
    held: list[list[dict]] = [[], [], []]
    before: dict[str, set[str]] = {}
    for _ in range(dice.randrange(1, 14)):
        here = dice.randrange(3)
        if dice.random() < 0.4:
            held[here] += [one for one in held[dice.randrange(3)] if one not in held[here]]
            continue
        made = statement(dice.randrange(30), ids(latest(held[here])), word=dice.choice("abc"))
        before[made["id"]] = set(ids(held[here]))
        held[here].append(made)
    return [one for own in held for one in own], before, held


def test_what_stays_is_what_nothing_happened_after():
    several = 0
    for seed in range(400):
        dice = Random(seed)
        every, before, held = a_history(dice)
        for known in (*held, every):
            once = list({one["id"]: one for one in known}.values())
            dice.shuffle(once)
            stay = {one["id"] for one in once if not any(one["id"] in before[other["id"]] for other in once)}
            found = latest(once)
            assert set(ids(found)) == stay
            assert found == sorted(found, key=lambda one: (one["at_ms"], one["id"]))
            several += len(stay) > 1
    assert several > 100
