"""Finds on a tablet without the desk: opened, agreed, weighed, cut, used; kept over a reload; seen at the desk when it is back."""

import csv
import io

import httpx
import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import stored_on_tablet
from tests.browser.conftest import PHONE, TABLET
from tests.browser.find_page import NAME, act, add_piece, agree, new_find, open_piece, ready, with_worker
from tests.browser.screen import audit, no_overflow

SIZES = [PHONE, TABLET]
SMALL_TARGETS = """() => [...document.querySelectorAll("main button, main .button, main input:not([type=hidden]), main select, main textarea, main summary, main .openables a, nav a")]
  .filter((node) => node.checkVisibility() && !node.closest(".visually-hidden") && !node.matches(".visually-hidden"))
  .map((node) => [node, (["checkbox", "radio"].includes(node.type) ? node.closest("label") : node).getBoundingClientRect()])
  .filter(([, box]) => box.width < 47.5 || box.height < 47.5).map(([node, box]) => `${node.id || node.textContent} ${box.width} × ${box.height}`)"""


def good_for_hands(page) -> None:
    """Nothing beyond the side, no target under 12 mm, every control named."""
    assert no_overflow(page)
    assert page.evaluate(SMALL_TARGETS) == []
    assert audit(page) == []


def ledger(page) -> list[list[str]]:
    """[act, change, left] of each row."""
    return page.locator("#rows tr").evaluate_all("(rows) => rows.map((row) => [row.cells[0].firstChild.textContent, row.cells[1].textContent, row.cells[2].textContent])")


@pytest.mark.parametrize("viewport", SIZES, ids=["phone", "tablet"])
def test_a_find_without_the_desk_from_the_bag_to_the_flame_and_then_at_the_desk(live_server, tablet_context, viewport):
    page = tablet_context(viewport).new_page()
    with_worker(page, live_server.url)
    live_server.kill()
    find = new_find(page, live_server.url, due="2031-01-10")
    expect(page.locator("#consent-said")).to_contain_text("has not been asked")
    page.get_by_role("button", name="Ask the keeper").tap()
    good_for_hands(page)
    page.get_by_role("button", name="Keep this answer").tap()
    expect(page.locator("#consent-said")).to_contain_text("Demo keeper was asked on 20")
    expect(page.locator("#consent-act")).to_have_text("Record the answer")
    agree(page, ("Flame", "Fuse"), "6,5")
    add_piece(page, "Demo foot", "10")
    good_for_hands(page)
    foot = open_piece(page, "Demo foot")
    act(page, "Cut", "4,1", Label_of_the_new_piece="Demo chip")
    expect(page.locator("#left")).to_contain_text("5.9")
    act(page, "Weighed", "5.8")
    expect(page.locator("#act-said")).to_have_text("Weighed: 5.8 g is written down.")
    page.locator("#a-mass").fill("1,25")  # half way in the form
    page.locator("#act-form").get_by_label("Used in a test").check()
    page.reload()
    ready(page)
    expect(page.locator("#a-mass")).to_have_value("1,25")
    expect(page.locator("#act-form").get_by_label("Used in a test")).to_be_checked()
    expect(page.locator("#mass-word")).to_have_text("Mass used up")
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#left")).to_contain_text("4.55")
    assert ledger(page) == [["Weighed", "= 10", "10"], ["Cut off: Demo chip", "− 4.1", "5.9"], ["Weighed", "= 5.8", "5.8"], ["Used in a flame test", "− 1.25", "4.55"]]
    expect(page.locator("#sums")).to_have_text("Of 10 g at the start: 4.55 g left, 4.1 g cut off, 1.25 g used, 0.1 g unaccounted for.")
    good_for_hands(page)
    page.goto(f"{live_server.url}/finds")
    expect(page.locator("#list")).to_contain_text("8.65 g left of 10 g · 2 pieces")
    good_for_hands(page)
    live_server.start()
    page.reload()
    expect(page.locator("#sync-word")).to_have_text("All sent")
    at_the_desk(live_server, tablet_context, find, foot)


def at_the_desk(live_server, browser_context, find: str, foot: str) -> None:
    """Another browser, that has recorded nothing, shows the same; so does the table."""
    desk = browser_context(TABLET).new_page()
    desk.goto(f"{live_server.url}/finds")
    expect(desk.locator("#list")).to_contain_text(NAME)
    expect(desk.locator("#list")).to_contain_text("Consent: agreed")
    expect(desk.locator("#list")).to_contain_text("due back 2031-01-10")
    desk.goto(f"{live_server.url}/finds/find?f={find}")
    expect(desk.locator("#consent-facts")).to_contain_text("at most 6.5 g of the whole find")
    desk.goto(f"{live_server.url}/finds/piece?p={foot}")
    expect(desk.locator("#left")).to_contain_text("4.55")
    rows = list(csv.DictReader(io.StringIO(httpx.get(f"{live_server.url}/finds/ledger.csv").text)))
    assert [(row["act"], row["label"], row["left_g"]) for row in rows] == [
        ("weighed", "Demo foot", "10"), ("cut", "Demo foot", "5.9"), ("weighed", "Demo foot", "5.8"), ("used", "Demo foot", "4.55"), ("came", "Demo chip", "4.1")]


def piece_of(page, url: str, mass: str = "3", **consent) -> str:
    """A find that is agreed on, with one piece, and that piece's page; the piece's id."""
    new_find(page, url)
    agree(page, **consent)
    add_piece(page, "Demo sherd", mass)
    return open_piece(page, "Demo sherd")


def test_no_act_takes_more_than_is_left(page, live_server):
    piece_of(page, live_server.url)
    for what in ("Cut", "Lost", "Returned", "Used in a test"):
        act(page, what, "3,0001")
        expect(page.locator("#act-error")).to_contain_text("more than the 3 g that is left")
    act(page, "Returned", "3")
    expect(page.locator("#left")).to_contain_text("0")
    act(page, "Used in a test", "0,1")
    expect(page.locator("#act-error")).to_contain_text("more than the 0 g that is left")
    assert [row[1] for row in ledger(page)] == ["= 3", "− 3"]


@pytest.mark.parametrize("typed", ["", "two", "-1", "0", "1e3", "200000"])
def test_a_mass_that_is_none_is_not_written_down(page, live_server, typed):
    piece_of(page, live_server.url)
    act(page, "Lost", typed, How_it_was_lost="fell")
    expect(page.locator("#act-error")).to_be_visible()
    assert len(ledger(page)) == 1


def test_a_piece_that_was_never_weighed_is_weighed_first(page, live_server):
    piece_of(page, live_server.url, "")
    expect(page.locator("#left")).to_have_text("Not weighed yet")
    act(page, "Used in a test", "1")
    expect(page.locator("#act-error")).to_have_text("This piece was never weighed. Weigh it first.")
    act(page, "Weighed", "0")
    expect(page.locator("#left")).to_contain_text("0")


def test_what_stands_against_a_use_is_said_and_what_happened_can_still_be_written_down(page, live_server):
    piece_of(page, live_server.url, limit="1,5")
    page.locator("#act-form").get_by_label("Used in a test").check()
    page.locator("#a-mass").fill("2")
    expect(page.locator("#against-list li")).to_have_text(["With this, 2 g of the whole find would be used up or lost; the keeper allows 1.5 g."])
    page.locator("#a-test").select_option("pull")
    expect(page.locator("#against-list li")).to_have_count(2)
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#act-error")).to_contain_text("If it has happened all the same, tick it")
    page.get_by_label("It has happened all the same").check()
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#left")).to_contain_text("1")
    assert ledger(page)[-1] == ["Used in a pull test", "− 2", "1"]


def test_cutting_is_cautioned_and_the_other_acts_are_not(page, live_server):
    piece_of(page, live_server.url)
    caution = page.get_by_text("Cut and grind wet")
    for what, is_seen in (("Weighed", False), ("Cut", True), ("Lost", False)):
        page.locator("#act-form").get_by_label(what, exact=True).check()
        expect(caution).to_be_visible() if is_seen else expect(caution).to_be_hidden()
    good_for_hands(page)


def test_the_caution_of_cutting_is_read_without_the_desk_and_the_desk_logs_it_later(tablet_context, live_server):
    context = tablet_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    piece_of(page, live_server.url)
    page.locator("#act-form").get_by_label("Cut", exact=True).check()
    caution = page.locator("[data-caution=cutting]")
    expect(caution.get_by_text("Cut and grind wet")).to_be_visible()
    caution.get_by_role("button", name="I have read this").tap()
    expect(caution.get_by_text("Cut and grind wet")).to_be_hidden()
    page.reload()
    ready(page)
    page.locator("#act-form").get_by_label("Cut", exact=True).check()
    expect(caution.get_by_text("Cut and grind wet")).to_be_hidden()
    caution.get_by_role("button", name="Show it again").tap()
    expect(caution.get_by_text("Cut and grind wet")).to_be_visible()
    [read] = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "caution.read"]
    assert (read["caution"], read["page"]) == ("cutting", "/finds/piece") and read["wording"] == caution.get_attribute("data-wording")
    assert "/finds/piece" not in httpx.get(f"{live_server.url}/cautions").text
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    assert "/finds/piece" in httpx.get(f"{live_server.url}/cautions").text


def test_a_row_is_taken_back_and_stays_struck(page, live_server):
    piece_of(page, live_server.url)
    act(page, "Weighed", "30")
    expect(page.locator("#left")).to_contain_text("30")
    page.get_by_role("button", name="Take back: Weighed, 30 g").tap()
    page.get_by_label("Why is it taken back?").fill("point typed wrong")
    good_for_hands(page)
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#left")).to_contain_text("3")
    expect(page.locator("#rows .struck")).to_have_text("Weighed")
    expect(page.locator("#rows")).to_contain_text("taken back: point typed wrong")


def test_a_row_that_later_rows_need_is_not_taken_back(page, live_server):
    piece_of(page, live_server.url)
    act(page, "Used in a test", "2")
    expect(page.locator("#left")).to_contain_text("1")
    page.get_by_role("button", name="Take back: Weighed, 3 g").tap()
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#undo-error")).to_contain_text("Take those back first")
    expect(page.locator("#rows .struck")).to_have_count(0)


def test_two_tablets_overdraw_and_both_say_so_when_they_meet(live_server, tablet_context):
    contexts = [tablet_context(size) for size in SIZES]
    first, second = (context.new_page() for context in contexts)
    piece = piece_of(first, live_server.url)
    expect(first.locator("#sync-word")).to_have_text("All sent")
    for page in (first, second):
        with_worker(page, live_server.url)
        page.goto(f"{live_server.url}/finds/piece?p={piece}")
        ready(page)
        expect(page.locator("#left")).to_contain_text("3")
    for context in contexts:
        context.set_offline(True)
    for page in (first, second):
        act(page, "Used in a test", "2")
        expect(page.locator("#left")).to_contain_text("1")
    for context in contexts:
        context.set_offline(False)
    for page in (first, second):
        expect(page.locator("#over-notice")).to_contain_text("1 g more was taken from this piece than there was")
        expect(page.locator("#left")).to_contain_text("0")
    rows = list(csv.DictReader(io.StringIO(httpx.get(f"{live_server.url}/finds/ledger.csv").text)))
    assert [row["beyond_what_was_left_g"] for row in rows] == ["0", "0", "1"]


def test_what_is_typed_survives_a_reload_in_every_form(page, live_server):
    page.goto(f"{live_server.url}/finds")
    ready(page)
    page.get_by_role("button", name="New find").tap()
    page.get_by_label("Context").fill("half a wor")
    page.reload()
    expect(page.get_by_label("Context")).to_have_value("half a wor")
    page.get_by_role("button", name="Leave it").tap()
    new_find(page, live_server.url)
    page.get_by_role("button", name="Ask the keeper").tap()
    page.get_by_role("radio", name="Refused").check()
    page.get_by_role("button", name="Add a piece").tap()
    page.get_by_label("Colour").fill("Demo gree")
    page.get_by_label("One of a glass like it").check()
    page.get_by_label("Look up the glass").fill("levantine ii")
    page.locator("#glass-choices button").first.tap()
    name = page.locator("#glass-chosen-name").text_content()
    page.reload()
    ready(page)
    expect(page.get_by_role("radio", name="Refused")).to_be_checked()
    expect(page.get_by_label("Who refused")).to_be_visible()
    expect(page.get_by_label("Colour")).to_have_value("Demo gree")
    expect(page.locator("#glass-chosen-name")).to_have_text(name)
    assert [e["kind"] for e in stored_on_tablet(page)] == ["find.opened"]


def test_a_linked_glass_leads_to_its_page(page, live_server):
    new_find(page, live_server.url)
    page.get_by_role("button", name="Add a piece").tap()
    page.get_by_label("What is written on it").fill("Demo chunk")
    page.get_by_label("Its own").check()
    page.get_by_role("button", name="Keep the piece").tap()
    expect(page.locator("#glass-error")).to_contain_text("Choose the glass")
    page.get_by_label("Look up the glass").fill("levantine ii")
    page.locator("#glass-choices button").first.tap()
    page.get_by_role("button", name="Keep the piece").tap()
    open_piece(page, "Demo chunk")
    expect(page.locator("#facts")).to_contain_text("Its analysis")
    page.locator("#facts a").tap()
    page.wait_for_url("**/glass/*")
    expect(page.locator("viscosity-chart")).to_be_attached()


def test_a_piece_is_found_by_the_code_on_its_label(page, live_server):
    piece = piece_of(page, live_server.url)
    code = page.locator("#code").text_content()
    page.goto(f"{live_server.url}/finds")
    page.get_by_label("Type the code on the label").fill("0000")
    page.get_by_role("button", name="Open", exact=True).tap()
    expect(page.locator("#code-error")).to_contain_text("No piece with this code")
    page.get_by_label("Type the code on the label").fill(code.lower())
    page.get_by_role("button", name="Open", exact=True).tap()
    page.wait_for_url(f"**/finds/piece?p={piece}")


def test_facts_are_changed_and_an_overdue_loan_is_said(page, live_server):
    new_find(page, live_server.url, due="2026-01-01")
    expect(page.locator("#due-notice")).to_contain_text("was due back 2026-01-01")
    page.get_by_role("button", name="Change").tap()
    page.get_by_label("On loan since").fill("2031-02-01")
    page.get_by_role("button", name="Keep the change").tap()
    expect(page.locator("#due-error")).to_contain_text("before the loan began")
    page.get_by_label("Due back").fill("2031-03-01")
    page.get_by_role("button", name="Keep the change").tap()
    expect(page.locator("#due-notice")).to_be_hidden()
    expect(page.locator("#facts")).to_contain_text("2031-03-01")


@pytest.mark.parametrize("path", ["/finds/find?f=nowhere", "/finds/piece?p=nowhere", "/finds/find", "/finds/piece"])
def test_what_is_not_known_here_says_so(page, live_server, path):
    page.goto(live_server.url + path)
    expect(page.locator("#missing")).to_contain_text("is not known on this tablet")
    good_for_hands(page)


TWICE = """(id) => { const form = document.getElementById(id); form.requestSubmit(); form.requestSubmit(); }"""


def test_a_second_tap_writes_nothing_twice(page, live_server):
    page.goto(f"{live_server.url}/finds")
    ready(page)
    page.get_by_role("button", name="New find").tap()
    page.get_by_label("Find number").fill("17")
    page.evaluate(TWICE, "find-form")
    page.wait_for_url("**/finds/find?f=*")
    ready(page)
    page.get_by_role("button", name="Ask the keeper").tap()
    page.evaluate(TWICE, "consent-form")
    expect(page.locator("#consent-said")).to_contain_text("was asked")
    page.get_by_role("button", name="Add a piece").tap()
    page.get_by_label("What is written on it").fill("Demo sherd")
    page.get_by_label("Mass, if it was weighed").fill("3")
    page.evaluate(TWICE, "piece-form")
    open_piece(page, "Demo sherd")
    page.locator("#act-form").get_by_label("Returned", exact=True).check()
    page.locator("#a-mass").fill("1")
    page.evaluate(TWICE, "act-form")
    expect(page.locator("#left")).to_contain_text("2")
    kinds = sorted(entry["kind"] for entry in stored_on_tablet(page))
    assert kinds == ["find.consent", "find.opened", "piece.added", "piece.returned", "piece.weighed"]


def test_a_store_that_refuses_is_said_and_what_was_typed_stays(page, live_server):
    piece_of(page, live_server.url)
    page.evaluate("""() => { IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); }; }""")
    act(page, "Returned", "1")
    expect(page.locator("#act-error")).to_have_text("Not stored: this device is full.")
    expect(page.locator("#a-mass")).to_have_value("1")
    page.reload()
    ready(page)
    expect(page.locator("#a-mass")).to_have_value("1")
    page.get_by_role("button", name="Write it down").tap()
    expect(page.locator("#left")).to_contain_text("2")


def test_a_loan_that_has_all_gone_back_is_not_overdue(page, live_server):
    new_find(page, live_server.url, due="2026-01-01")
    add_piece(page, "Demo sherd", "3")
    expect(page.locator("#due-notice")).to_be_visible()
    open_piece(page, "Demo sherd")
    act(page, "Returned", "3")
    expect(page.locator("#left")).to_contain_text("0")
    page.get_by_role("link", name=NAME).tap()
    ready(page)
    expect(page.locator("#due-notice")).to_be_hidden()


def test_every_statement_of_the_keeper_stays_to_be_read(page, live_server):
    new_find(page, live_server.url)
    page.get_by_role("button", name="Ask the keeper").tap()
    page.get_by_role("radio", name="Refused").check()
    page.get_by_label("On which day").fill("2026-01-31")
    page.get_by_label("letter, conditions").fill("not before it is drawn")
    page.get_by_role("button", name="Keep this answer").tap()
    expect(page.locator("#consent-said")).to_contain_text("Nothing of this find is to be used up.")
    page.locator("#consent-act").tap()
    page.get_by_role("radio", name="Agreed").check()
    page.get_by_role("button", name="Keep this answer").tap()
    expect(page.locator("#tests-error")).to_have_text("Tick the tests that are allowed.")
    page.get_by_role("button", name="Leave it").tap()
    agree(page, ("Flame", "Thread"), "2,5")
    page.locator("#history summary").tap()
    expect(page.locator("#history-list li")).to_have_text([
        "Demo keeper refused on 2026-01-31. Nothing of this find is to be used up. not before it is drawn",
        "Demo keeper agreed on 2026-02-01 to: flame test, thread test. Limits: at most 2.5 g of the whole find."])
    good_for_hands(page)
