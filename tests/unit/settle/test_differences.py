"""What waits for a person, worked by hand: both sides stand there, what counts meanwhile, and what a choice records settles it everywhere."""

import pytest

from server.find.entry import EntryIn as FIND
from server.find.ledger import finds_from, may_use
from server.finding.said import percent_of, said_of_pairs
from server.plan.entry import KINDS
from server.plan.said import said_of_conditions
from server.session.queue import SessionResult, session_from
from server.settle.differences import of_finds, of_margins, of_session, of_trial
from server.settle.log import differences
from server.sync.push import Batch, push
from server.trial.timing import trial_from
from tests import finds as f
from tests.entries import WALL_0, entry, whole_trial
from tests.unit.session.test_queue import CONDITIONS, SESSION, made

TODAY = "2026-11-26"


def of(entries: list[dict]):
    return of_finds(entries, finds_from(entries))


def chosen(choice, difference, device: str = f.DEVICE) -> dict:
    """What the page records when this one is chosen; its clock is years behind."""
    return entry(choice.kind, difference.subject, 20, choice.body, at_ms=5, device=device)


def two_consents(first: dict, second: dict) -> list[dict]:
    find, piece = f.subject(), f.subject()
    return [
        f.opened(find), f.added(piece, find), f.weighed(piece, 10.0),
        f.consent(find, WALL_0 + 10, over=[], **first),
        f.consent(find, WALL_0 + 20, over=[], **second) | {"device": f.OTHER_DEVICE},
    ]


@pytest.mark.parametrize(("first", "second", "mass_g", "words"), [
    ({"state": "refused"}, {"state": "given"}, 1.0, ["The keeper refused tests that use the find up on 2026-02-01."]),
    ({"state": "given"}, {"state": "asked"}, 1.0, ["The keeper was asked on 2026-02-01 and has not answered yet."]),
    ({"state": "given", "limit_g": 2.0}, {"state": "given", "limit_g": 5.0}, 3.0, ["With this, 3 g of the whole find would be used up or lost; the keeper allows 2 g."]),
    ({"state": "given", "limit_g": 2.0}, {"state": "given"}, 2.0, []),
    ({"state": "given", "tests": ["flame"]}, {"state": "given", "tests": ["fuse", "flame"]}, 1.0, []),
    ({"state": "given", "tests": ["pull"]}, {"state": "given", "tests": ["fuse", "flame"]}, 1.0, ["The keeper's consent does not name the flame test."]),
])
def test_until_one_is_chosen_only_what_both_allow_counts(first, second, mass_g, words):
    for one, other in ((first, second), (second, first)):
        found = finds_from(two_consents(one, other))
        assert found.finds[0].unsettled == ["consent"]
        assert may_use(found.finds[0], found.pieces, found.pieces[0], mass_g, "flame", TODAY) == words


def test_a_chosen_consent_settles_it_whatever_its_clock_says():
    entries = two_consents({"state": "refused"}, {"state": "given", "limit_g": 4.0})
    [difference] = of(entries)
    assert [dict(choice.lines) for choice in difference.choices] == [{"The keeper": "refused"}, {"The keeper": "agreed", "Most of the whole find": "4 g"}]
    assert not any(choice.counts for choice in difference.choices)
    settled = [*entries, chosen(difference.choices[1], difference)]
    assert of(settled) == []
    assert (finds_from(settled).finds[0].consent["state"], finds_from(settled).finds[0].consent["limit_g"]) == ("given", 4.0)
    FIND.validate_python(settled[-1])


def test_two_decisions_made_apart_are_a_difference_again_unless_they_agree():
    entries = two_consents({"state": "refused"}, {"state": "given"})
    [difference] = of(entries)
    refused, given = difference.choices
    agreeing = [*entries, chosen(given, difference), chosen(given, difference, f.OTHER_DEVICE)]
    assert of(agreeing) == []
    [again] = of([*entries, chosen(given, difference), chosen(refused, difference, f.OTHER_DEVICE)])
    assert len(again.choices) == 2
    assert of([*entries, chosen(given, difference), chosen(refused, difference), chosen(again.choices[0], again)]) != []  # it knew of the first two only


def test_facts_of_a_find_and_of_a_piece_show_only_what_differs():
    find, piece = f.subject(), f.subject()
    opened, added = f.opened(find), f.added(piece, find)
    entries = [
        opened, added,
        f.changed(opened, WALL_0 + 5, [opened["id"]], number="18"),
        f.changed(opened, WALL_0 + 9, [opened["id"]], f.OTHER_DEVICE, number="17", context="Demo pit 4"),
        f.changed(added, WALL_0 + 5, [added["id"]], colour="green"),
        f.changed(added, WALL_0 + 6, [added["id"]], f.OTHER_DEVICE, colour="blue", find=f.subject()),
    ]
    of_find, of_piece = of(entries)
    assert [choice.lines for choice in of_find.choices] == [[("Find number", "18"), ("Context", "nothing")], [("Find number", "17"), ("Context", "Demo pit 4")]]
    assert [choice.counts for choice in of_find.choices] == [False, True]
    assert dict(of_piece.choices[1].lines) == {"Find": "a find that is not known here", "Colour": "blue"}
    settled = [*entries, chosen(of_find.choices[0], of_find), chosen(of_piece.choices[0], of_piece)]
    assert of(settled) == []
    after = finds_from(settled)
    assert (after.finds[0].facts["number"], after.pieces[0].facts["colour"], after.pieces[0].facts["find"]) == ("18", "green", find)


def test_an_older_isokom_is_never_in_doubt():
    """Its statements say nothing of what they come after: as it always was, the last one counts."""
    find = f.subject()
    entries = [f.opened(find), f.consent(find, WALL_0 + 1, state="refused"), f.consent(find, WALL_0 + 2, state="given") | {"device": f.OTHER_DEVICE}]
    assert of(entries) == [] and finds_from(entries).finds[0].consent["state"] == "given"


def word(kind: str, trial: list[dict], at_ms: int, lane: str, over: list[str], device: str, **body) -> dict:
    return entry(f"trial.{kind}", trial[0]["subject"], 90, {"lane": lane, "over": over, **body}, at_ms, device)


def test_times_left_out_here_and_taken_in_there():
    trial = whole_trial()
    out = word("left_out", trial, WALL_0 + 1, "all", [], f.DEVICE, why="Demo draught")
    taken_in = word("taken_in", trial, WALL_0 + 2, "sag", [out["id"]], f.DEVICE)
    also_out = word("left_out", trial, WALL_0 + 3, "sag", [out["id"]], f.OTHER_DEVICE, why="Demo slip")
    entries = [*trial, out, taken_in, also_out]
    [difference] = of_trial(entries, "Demo Rubin rod")
    assert [(choice.lines[0][1], choice.counts) for choice in difference.choices] == [("The time counts", False), ("The time does not count: Demo slip", True)]
    assert dict(trial_from(entries).left_out) == {"sag": "Demo slip", "round": "Demo draught", "glow": "Demo draught"}
    settled = [*entries, chosen(difference.choices[0], difference)]
    assert of_trial(settled, "") == [] and dict(trial_from(settled).left_out) == {"round": "Demo draught", "glow": "Demo draught"}


def test_all_times_at_once_are_one_question():
    trial = whole_trial()
    out = word("left_out", trial, WALL_0 + 2, "all", [], f.DEVICE, why="Demo draught")
    entries = [*trial, out, word("taken_in", trial, WALL_0 + 1, "all", [], f.OTHER_DEVICE)]
    [difference] = of_trial(entries, "")
    assert "all times" in difference.matter
    assert of_trial([*entries, chosen(difference.choices[0], difference)], "") == []


def test_reasons_that_differ_are_no_question():
    trial = whole_trial()
    entries = [*trial, word("left_out", trial, WALL_0 + 2, "sag", [], f.DEVICE, why="Demo draught"), word("left_out", trial, WALL_0 + 1, "sag", [], f.OTHER_DEVICE, why="Demo slip")]
    assert of_trial(entries, "") == []


def test_the_book_tells_all_of_them_and_none_under_cover(store):
    trial, hidden = whole_trial(), whole_trial(session=f.subject(), run=0, code="KF7M")
    apart = [word(kind, some, WALL_0 + place, "sag", [], device, **more) for some in (trial, hidden) for place, (kind, device, more) in enumerate((("taken_in", f.DEVICE, {}), ("left_out", f.OTHER_DEVICE, {"why": "Demo slip"})))]
    with store.write() as session:
        verdicts = push(session, Batch(entries=[*two_consents({"state": "refused"}, {"state": "given"}), *trial, *hidden, *apart]), 1)
    assert {one.verdict for one in verdicts} == {"stored"}
    with store.read() as session:
        found = differences(session)
    assert [(one.matter, one.subject) for one in found] == [("The keeper’s consent", found[0].subject), ("Whether this time counts: Sagged", trial[0]["subject"])]


def dish(kind: str, at_ms: int, over: list[str], device: str, run: int = 1, why: str = "") -> dict:
    return entry(f"plan.{kind}", SESSION, 90, {"run": run, "why": why, "over": over}, at_ms, device)


def held(at_ms: int, over: list[str], device: str, **changes) -> dict:
    return entry("plan.conditions", SESSION, 91, {"conditions": {**CONDITIONS, **changes}, "why": "", "over": over}, at_ms, device)


def standing(entries: list[dict]) -> SessionResult:
    return session_from(sorted(entries, key=lambda one: (one["at_ms"], one["id"])), {}, {}, {})


def test_a_dish_left_out_here_and_done_there():
    plan = made(is_blind=False)
    out, done = dish("skipped", WALL_0 + 2, [], f.DEVICE, why="Demo crack"), dish("done", WALL_0 + 3, [], f.OTHER_DEVICE)
    entries = [plan, out, done]
    [difference] = of_session(entries, set())
    assert [(dict(choice.lines), choice.counts) for choice in difference.choices] == [({"Said": "left out", "Why": "Demo crack"}, False), ({"Said": "done elsewhere", "Why": "nothing"}, True)]
    assert standing(entries).runs[1].state == "done"
    settled = [*entries, chosen(difference.choices[0], difference)]
    assert of_session(settled, set()) == [] and (standing(settled).runs[1].state, standing(settled).runs[1].why) == ("left out", "Demo crack")
    KINDS.validate_python(settled[-1])
    assert of_session(entries, {1}) == []  # it was heated and kept after all
    assert of_session([plan, out, dish("reopened", 5, [out["id"]], f.OTHER_DEVICE)], set()) == []


def test_torch_and_room_of_an_open_session():
    plan = made(is_blind=False)
    gas, holder = held(WALL_0 + 2, [], f.DEVICE, cylinder="Demo full"), held(WALL_0 + 3, [], f.OTHER_DEVICE, holder="tongs")
    [difference] = of_session([plan, gas, holder], set())
    assert difference.matter == "Torch and room"
    assert [label for label, _words in difference.choices[0].lines] == ["Pressure or cylinder", "Holder"]
    settled = [plan, gas, holder, chosen(difference.choices[0], difference)]
    assert of_session(settled, set()) == [] and said_of_conditions(settled)[-1]["body"]["conditions"]["cylinder"] == "Demo full"
    assert of_session([plan, gas, holder, entry("plan.closed", SESSION, 92, {"why": ""}, WALL_0 + 9)], set()) == []


def margin(percent: float, at_ms: int, over: list[str], device: str, turned: bool = False) -> dict:
    first, second = ("glass:demo-b", "glass:demo-a") if turned else ("glass:demo-a", "glass:demo-b")
    return entry("finding.margin", f.subject(), 1, {"first": first, "second": second, "lane": "sag", "percent": percent, "over": over}, at_ms, device)


def test_two_margins_of_the_same_two_groups_whichever_was_named_first():
    entries = [margin(20, WALL_0 + 1, [], f.DEVICE), margin(10, WALL_0 + 2, [], f.OTHER_DEVICE, turned=True)]
    [difference] = of_margins(entries, {"glass:demo-a": "Demo Auburn rod"})
    assert (difference.title, difference.matter) == ("Demo Auburn rod and demo-b", "Alike within: Sagged")
    assert [(choice.lines, choice.counts) for choice in difference.choices] == [([("Margin", "20 %")], False), ([("Margin", "10 %")], True)]
    settled = [*entries, chosen(difference.choices[0], difference)]
    assert of_margins(settled, {}) == [] and [percent_of(one[-1]) for one in said_of_pairs(settled).values()] == [20]
    assert of_margins([*entries, margin(10, WALL_0, [], f.DEVICE)], {}) != [] and of_margins([entries[0], margin(20, 7, [], f.OTHER_DEVICE)], {}) == []


def test_what_was_settled_in_a_book_is_gone_from_its_list(store):
    told = [made(is_blind=True), dish("skipped", WALL_0 + 2, [], f.DEVICE), dish("done", WALL_0 + 3, [], f.OTHER_DEVICE), margin(20, WALL_0 + 1, [], f.DEVICE), margin(10, WALL_0 + 2, [], f.OTHER_DEVICE)]
    with store.write() as session:
        assert {one.verdict for one in push(session, Batch(entries=told), 1)} == {"stored"}
        found = differences(session)
        assert [one.matter for one in found] == [f"Dish {told[0]['body']['runs'][1]['code']}", "Alike within: Sagged"]
        assert {one.verdict for one in push(session, Batch(entries=[chosen(one.choices[0], one) for one in found]), 1)} == {"stored"}
        assert differences(session) == []
