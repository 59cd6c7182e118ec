"""Several pieces that are used together, and what open sessions have planned: the limits of a find are tested over all of them. Run in the page, by the modules themselves."""

from datetime import date, timedelta

import pytest

from tests import finds as f
from tests.entries import WALL_0

DAY = date.today()
IN_PAGE = """async ([entries, asked, test, plans]) => {
  const base = document.querySelector("script[src$='find/index.js']").src.replace("index.js", "");
  const { record } = await import(base + "../web/outbox.js");
  for (const { kind, subject, body, at_ms } of entries) await record(kind, subject, body, { at_ms });
  const { knownPieces, pieceWords, reservedIn, standing, standingTogether } = await import(base + "uses.js");
  const reserved = plans ? reservedIn(plans) : undefined;
  const known = await knownPieces(reserved);
  const one = (id) => known.find(({ piece }) => piece.id === id);
  const list = asked.map(([id, mass_g]) => ({ one: one(id), mass_g }));
  const bare = (await knownPieces()).find(({ piece }) => piece.id === asked[0][0]);
  return {
    together: standingTogether(list, test),
    alone: list.map(({ one, mass_g }) => standing(one, mass_g, test)),
    words: known.map((one) => pieceWords(one)),
    given: [standing(bare, asked[0][1], test, reserved), pieceWords(bare, reserved)],
  };
}"""
A, B, C, FIND, OTHER = (f.subject() for _ in range(5))
WHOLE = "Demo Nowhere Quay, find 17"


def entries(**said) -> list[dict]:
    """A find with A (6 g) and C that was cut off it (1 g), and B (4 g); 1 g of B is used. `said` is the keeper's consent."""
    due = said.pop("due", DAY)
    made = [f.opened(FIND, due=due.isoformat()), f.added(A, FIND, label="MF 1"), f.added(B, FIND, label="MF 2", code="TW3CA"), f.added(C, FIND, label="MF 3", code="TW3CC")]
    made += [f.consent(FIND, **said)] if said else []
    at_ms = WALL_0
    return [*made, f.weighed(A, 7, at_ms), f.weighed(B, 5, at_ms), f.cut(A, C, 1, at_ms + 1), f.used(B, 1, at_ms=at_ms + 1)]


def told(page, live_server, made: list[dict], asked: list[list], test: str = "flame", plans: list[dict] | None = None) -> dict:
    page.goto(f"{live_server.url}/finds")
    return page.evaluate(IN_PAGE, [made, asked, test, plans])


def plan(mass_g: float, *runs: int) -> dict:
    """A session of MF 1, a glass that is no piece, and MF 2; `runs` are places in it."""
    return {"glasses": [{"piece_id": A}, {"piece_id": None}, {"piece_id": B}], "runs": [{"glass": place} for place in runs], "mass_g": mass_g}


def test_the_limit_of_the_find_holds_for_all_its_pieces_together(page, live_server):
    found = told(page, live_server, entries(limit_g=5, state="given"), [[A, 2.5], [B, 2]])
    assert all(one == {"blocks": [], "warns": []} for one in found["alone"])
    assert found["together"] == {"blocks": [], "warns": [f"MF 1 and MF 2 of {WHOLE}: With this, 5.5 g of the whole find would be used up or lost; the keeper allows 5 g."]}


def test_at_the_limit_nothing_is_said(page, live_server):
    assert told(page, live_server, entries(limit_g=5, state="given"), [[A, 2], [B, 2]])["together"] == {"blocks": [], "warns": []}


def test_the_limit_of_a_piece_holds_for_what_was_cut_off_it_and_not_for_others(page, live_server):
    found = told(page, live_server, entries(limit_piece_g=2, state="given"), [[A, 1.5], [B, 1], [C, 0.6]])
    assert found["together"]["warns"] == [f"MF 1 and MF 3 of {WHOLE}: With this, 2.1 g of what was one piece would be used up or lost; the keeper allows 2 g."]
    assert [one["warns"] for one in found["alone"]] == [[], [], []]


def test_a_piece_asked_for_twice_is_summed_and_a_single_one_is_not_named(page, live_server):
    found = told(page, live_server, entries(state="given"), [[A, 3.5], [A, 3]])
    assert found["together"] == {"blocks": ["That is more than the 6 g that is left. Weigh the piece again if the scales say otherwise."], "warns": []}


def test_what_forbids_stands_apart_from_what_speaks_against_and_names_its_piece(page, live_server):
    late = DAY - timedelta(days=3)
    found = told(page, live_server, entries(limit_g=5, state="given", due=late), [[A, 1], [B, 4.5]])["together"]
    due = f"The loan was due back on {late.isoformat()}."
    assert found["blocks"] == [f"MF 2, {WHOLE}: That is more than the 4 g that is left. Weigh the piece again if the scales say otherwise."]
    assert found["warns"] == [f"MF 1 and MF 2 of {WHOLE}: With this, 6.5 g of the whole find would be used up or lost; the keeper allows 5 g.", f"MF 1 and MF 2 of {WHOLE}: {due}"]


@pytest.mark.parametrize(("said", "sentence"), [
    ({}, "The keeper has not been asked about tests that use the find up."),
    ({"state": "refused"}, "The keeper refused tests that use the find up on 2026-02-01."),
    ({"state": "given", "tests": ["fuse"]}, "The keeper's consent does not name the flame test."),
])
def test_without_consent_everything_is_forbidden_also_before_a_mass_is_known(page, live_server, said, sentence):
    found = told(page, live_server, entries(**said), [[A, None], [B, 9]])
    assert found["alone"][0] == {"blocks": [sentence, "Record the keeper's answer under Finds first."], "warns": []}
    assert found["together"]["blocks"] == [
        f"MF 1 and MF 2 of {WHOLE}: {sentence}", f"MF 2, {WHOLE}: That is more than the 4 g that is left. Weigh the piece again if the scales say otherwise.",
        "Record the keeper's answer under Finds first."]


def test_pieces_of_two_finds_have_each_their_keeper(page, live_server):
    made = entries(limit_g=3, state="given")
    other = f.subject()
    made += [f.opened(OTHER, number="18", due=""), f.added(other, OTHER, label="MF 9", code="TW3CD"), f.weighed(other, 5)]
    found = told(page, live_server, made, [[A, 2], [other, 4]])["together"]
    assert found == {"blocks": ["MF 9, Demo Nowhere Quay, find 18: The keeper has not been asked about tests that use the find up.", "Record the keeper's answer under Finds first."], "warns": []}


def test_what_open_sessions_have_planned_is_not_planned_again(page, live_server):
    plans = [plan(1.5, 0, 1, 2, 0, 0), plan(0.5, 0, 2, 1)]  # of MF 1: 3 × 1.5 and 0.5 = 5 g; of MF 2: 1.5 and 0.5 = 2 g
    found = told(page, live_server, entries(limit_g=9, state="given"), [[A, 1.2], [B, 1]], plans=plans)
    blocked = "That is more than is free of the 6 g that is left, of which 5 g are planned in an open session."
    assert found["alone"][0] == {"blocks": [blocked], "warns": ["With this, 9.2 g of the whole find would be used up or lost, of which 7 g are planned in an open session; the keeper allows 9 g."]}
    assert found["alone"][1] == {"blocks": [], "warns": []}
    assert found["together"]["blocks"] == [f"MF 1, {WHOLE}: {blocked}"]
    assert found["together"]["warns"] == [f"MF 1 and MF 2 of {WHOLE}: With this, 10.2 g of the whole find would be used up or lost, of which 7 g are planned in an open session; the keeper allows 9 g."]
    words = [f"MF 1, {WHOLE} · 6 g left, of which 5 g are planned in an open session", f"MF 2, {WHOLE} · 4 g left, of which 2 g are planned in an open session", f"MF 3, {WHOLE} · 1 g left"]
    assert found["words"] == words and found["given"] == [found["alone"][0], words[0]]


def test_without_plans_nothing_is_said_of_them(page, live_server):
    found = told(page, live_server, entries(limit_g=9, state="given"), [[A, 6]], plans=[])
    assert found["alone"] == [{"blocks": [], "warns": []}] and found["words"][0] == f"MF 1, {WHOLE} · 6 g left"


def test_a_refusal_recorded_here_counts_at_once_and_without_the_desk(browser_context, live_server):
    page = browser_context().new_page()
    page.route("**/finds/log.json", lambda route: route.abort())
    found = told(page, live_server, entries(state="given"), [[A, 1]])
    assert found["alone"] == [{"blocks": [], "warns": []}]
    found = told(page, live_server, [f.consent(FIND, at_ms=WALL_0 + 1, state="refused", tests=[])], [[A, 1]])
    assert found["alone"][0]["blocks"] == ["The keeper refused tests that use the find up on 2026-02-01.", "Record the keeper's answer under Finds first."]
