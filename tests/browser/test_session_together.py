"""Sessions where hands cross: two tablets, two tabs, a second tap, a board without its reference, a board that fell."""

import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import close_session, in_session, stored_on_tablet
from tests.browser.measure_page import CARDS, press_next, read_card, ready, shown, stop_test
from tests.browser.test_measure_pieces import lent_piece
from tests.browser.test_session_measured import NAMES, begin_and_measure, measure_dish, plan_session, tells_no_name


def session_of(page) -> str:
    return next(e["subject"] for e in stored_on_tablet(page) if e["kind"] == "plan.made")


def plan_with_piece(page, url: str, test: str, mass: str, repeats: int = 1) -> None:
    """An invented glass as the reference, and the piece that was lent."""
    page.goto(f"{url}/bench/plan")
    expect(page.locator("html[data-ready=plan]")).to_be_attached()
    page.locator("#test").select_option(test)
    page.locator("#search").fill(NAMES[0])
    page.locator("#choices button").last.click()
    page.locator("#piece-part summary").click()
    page.locator("#pieces button").first.click()
    page.locator("#planned label").first.click()
    for _ in range(3 - repeats):
        page.locator("[data-step='-1']").click()
    page.locator("#mass").fill(mass)


def used(page) -> list[tuple[float, str]]:
    return [(e["body"]["mass_g"], e["body"]["test"]) for e in stored_on_tablet(page) if e["kind"] == "piece.used"]


def until_used(page) -> list[tuple[float, str]]:
    for _ in range(100):
        if used(page):
            break
        page.wait_for_timeout(100)
    return used(page)


def test_another_tablet_sees_how_it_stands_and_ends_it_only_in_the_place_of_the_first(browser_context, live_server):
    first = browser_context().new_page()
    plan_session(first, live_server.url, "strip")
    measure_dish(first, "strip")
    expect(first.locator("#lead")).to_contain_text("Run 2 of 3")
    expect(first.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    second = browser_context().new_page()
    second.goto(f"{live_server.url}/bench")
    second.locator("#session-list a").first.click()
    expect(second.locator("#lead")).to_contain_text("Run 2 of 3")
    expect(second.locator("#elsewhere")).to_be_visible()
    expect(second.locator("#uncover-part")).to_be_hidden()
    assert tells_no_name(second)
    second.locator("#here-all-the-same").click()
    second.locator("#uncover-part summary").click()
    second.locator("#close-early").click()
    expect(second.locator("#uncover-error")).to_have_text("Say in a few words why.")
    second.locator("#uncover-why").fill("the first tablet fell")
    second.locator("#close-early").click()
    expect(second.locator("#book")).to_contain_text("Closed: the first tablet fell.")
    expect(second.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    first.reload()
    expect(first.locator("#lead")).to_contain_text("is closed: 1 of 3 runs were done")
    expect(first.locator("#dishes")).to_contain_text(NAMES[1])
    desk = browser_context().new_page()
    desk.goto(f"{live_server.url}/results/session/{session_of(first)}")
    expect(desk.locator("dl.facts", has_text="Planned")).to_contain_text("the first tablet fell")


def test_what_one_tablet_plans_of_a_piece_another_counts(browser_context, live_server):
    """3 g were lent: 1 g a run, twice on either tablet, is more than there is."""
    lent_piece(live_server.url, ["strip"])
    first, second = browser_context().new_page(), browser_context().new_page()
    plan_with_piece(first, live_server.url, "strip", "1", repeats=2)
    first.locator("#make").click()
    expect(first.locator("html[data-ready=session]")).to_be_attached()
    expect(first.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    plan_with_piece(second, live_server.url, "strip", "1", repeats=2)
    expect(second.locator("#planned")).to_contain_text("3 g left, of which 2 g are planned in an open session")
    second.locator("#make").click()
    expect(second.locator("#against")).to_contain_text("more than")
    assert not any(e["kind"] == "plan.made" for e in stored_on_tablet(second))


def test_a_board_is_laid_only_with_its_reference_and_a_second_one_has_it_too(browser_context, live_server):
    page = browser_context().new_page()
    plan_session(page, live_server.url, "fuse")
    leave_out, after_all = (page.locator("#dishes button", has_text=words) for words in ("Leave out", "Do it after all"))
    for number in (0, 1):  # both dishes of the reference, first and last
        leave_out.nth(number).click()
        page.locator("[data-why=broken]").click()
        expect(after_all).to_have_count(number + 1)
    expect(page.locator("#lead")).to_have_text("One firing of 1 dish.")
    in_session(page, "#go")
    expect(page.locator("#mass-error")).to_contain_text("Every dish of the reference is left out")
    for left in (1, 0):
        after_all.first.click()
        expect(after_all).to_have_count(left)
    leave_out.nth(1).click()
    page.locator("[data-why=broken]").click()
    expect(page.locator("#lead")).to_have_text("One firing of 2 dishes.")
    lay_and_keep(page, 2)
    expect(page.locator("#lead")).to_have_text("All 3 dishes are through: 2 kept, 1 left out.")
    after_all.click()
    expect(page.locator("#lead")).to_have_text("One firing of 2 dishes.")
    in_session(page, "#go")
    ready(page)
    page.locator("#begin").click()
    expect(page.locator("#board b")).to_have_count(2)
    starts = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "measure.started"]
    assert all(body["glasses"]["AB".index(body["setup"]["reference"])]["name"] == NAMES[0] for body in starts)
    assert [sorted(dish["run"] for dish in body["dishes"]) for body in starts] == [[0, 2], [0, 1]]


def lay_and_keep(page, count: int, mass: str = "0.5") -> None:
    """The board, from the session's page and back to it; every chip is read."""
    in_session(page, "#go")
    ready(page)
    page.locator("#begin").click()
    expect(page.locator("#task-title")).to_have_text("Lay the dishes out")
    read_card(page, "go")
    for _ in range(count):
        for card in (mass, "5", "5"):
            read_card(page, card)
    read_card(page, "go")
    for _ in range(count):
        for card in ("4.4", "5.5", "Rounded", ""):
            read_card(page, card)
    press_next(page)
    expect(page.locator("html[data-ready=session]")).to_be_attached()


def test_a_board_takes_from_a_piece_what_its_chips_weighed_once_it_is_fired(browser_context, live_server):
    """0.25 g was planned for each of two chips; the first board fell before the firing, on the second they weighed 0.5 g each."""
    lent_piece(live_server.url, ["fuse"])
    page = browser_context().new_page()
    plan_with_piece(page, live_server.url, "fuse", "0,25", repeats=2)
    page.locator("#make").click()
    in_session(page, "#go")
    ready(page)
    page.locator("#begin").click()
    expect(page.locator("#part-run")).to_be_visible()
    ready(page)
    page.locator("#to-session").click()
    expect(page.locator("#lead")).to_have_text("The board is laid.")
    in_session(page, "#go")
    ready(page)
    stop_test(page, "the board fell")
    page.locator("#to-session").click()
    expect(page.locator("#lead")).to_contain_text("dishes are through: 5 stopped.")
    for left in range(5, 0, -1):
        page.locator("#dishes button", has_text="Do it after all").first.click()
        expect(page.locator("#dishes button", has_text="Do it after all")).to_have_count(left - 1)
    lay_and_keep(page, 5)
    assert used(page) == []
    close_session(page)
    assert until_used(page) == [(1.0, "fuse")]


def test_the_second_tap_of_a_double_one_passes_over_nothing(browser_context, live_server):
    page = browser_context().new_page()
    plan_session(page, live_server.url, "strip")
    in_session(page, "#go")
    ready(page)
    page.locator("#begin").click()
    expect(page.locator("#part-run")).to_be_visible()
    ready(page)
    page.locator("#next").dblclick(delay=20)
    expect(page.locator("#task-label")).to_have_text("Known expansion of this strip, 20 to 300 °C")
    page.wait_for_timeout(500)
    assert "Known expansion" in shown(page)
    for card in CARDS["strip"][1:-1]:
        read_card(page, card)
    press_next(page)
    expect(page.locator("html[data-ready=session]")).to_be_attached()
    page.locator("#go").click(no_wait_after=True)  # a page that has just opened takes no press
    page.wait_for_timeout(300)
    assert "/bench/session" in page.url
    for _ in range(2):
        measure_dish(page, "strip")
    page.locator("#close").click()
    expect(page.locator("#end")).to_be_hidden()
    in_session(page, "#close")
    page.locator("#end-later").click()
    expect(page.locator("#close")).to_be_visible()
    assert not any(e["kind"] == "plan.closed" for e in stored_on_tablet(page))


@pytest.mark.parametrize("ending", ["closed", "begun"])
def test_a_form_left_open_in_a_second_tab_begins_nothing_twice(browser_context, live_server, ending):
    context = browser_context()
    page = context.new_page()
    plan_session(page, live_server.url, "strip")
    in_session(page, "#go")
    ready(page)
    form = page.url
    other = context.new_page()
    other.goto(form)
    ready(other)
    if ending == "begun":
        begin_and_measure(page, "strip")
        other.locator("#begin").click()
        expect(other.locator("#part-run")).to_be_visible()
    else:
        page.goto(f"{live_server.url}/bench/session?s={session_of(page)}")
        page.locator("#uncover-part summary").click()
        page.locator("#uncover-why").fill("training")
        page.locator("#close-early").click()
        expect(page.locator("#lead")).to_contain_text("is closed")
        other.locator("#begin").click()
        expect(other.locator("#setup-error")).to_contain_text("its session is closed")
    assert sum(e["kind"] == "measure.started" for e in stored_on_tablet(page)) == (ending == "begun")
