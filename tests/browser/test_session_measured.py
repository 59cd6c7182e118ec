"""Sessions of the four measured tests: planned, blind, run dish after dish, offline, with reloads, covered at the desk until they are closed."""

import pytest
from playwright.sync_api import expect

from server.plan.order import runs_of
from tests.browser.bench_page import choose_for_plan, close_session, in_session, stored_on_tablet, with_worker
from tests.browser.measure_page import CARDS, onward, press_next, read_card, ready, stop_test, stumbles
from tests.browser.screen import no_overflow, too_small
from tests.browser.test_measure_pieces import lent_piece

NAMES = ("Demo clear rod (invented)", "Demo opal rod (invented)")
SIZES = {"pull": (820, 1180), "thread": (820, 1180), "strip": (390, 844), "fuse": (820, 1180)}
CHIP = {"mass_g": "0.5", "height_before_mm": "5", "width_before_mm": "5", "height_after_mm": "4.4", "width_after_mm": "5.5"}


def plan_session(page, url: str, test: str, repeats: int = 1) -> str:
    """Two invented glasses, the first as the reference; the seed."""
    page.goto(f"{url}/bench/plan")
    choose_for_plan(page, NAMES)
    page.locator("#test").select_option(test)
    page.locator("#planned label").first.click()
    for _ in range(3 - repeats):
        page.locator("[data-step='-1']").click()
    assert too_small(page) == [] and no_overflow(page)
    seed = page.locator("#seed").input_value()
    page.locator("#make").click()
    expect(page.locator("html[data-ready=session]")).to_be_attached()
    return seed


def tells_no_name(page) -> bool:
    return not any(name in page.locator("main").inner_text() for name in NAMES)


def measure_dish(page, test: str) -> None:
    """One dish, from the session's page to the next dish; a reload in the middle."""
    in_session(page, "#go")
    begin_and_measure(page, test)


def begin_and_measure(page, test: str) -> None:
    """From the form to the next dish."""
    ready(page)
    assert tells_no_name(page)
    page.locator("#begin").click()
    expect(page.locator("#part-run")).to_be_visible()
    ready(page)
    for card in CARDS[test][: -1 if test == "strip" else None]:  # no full-wave plate at hand
        read_card(page, card)
        assert tells_no_name(page)
    expect(page.locator("#next")).to_have_text("Keep, on with the session")
    press_next(page)
    expect(page.locator("html[data-ready=session]")).to_be_attached()


def desk_tells_nothing(other, url: str, count: int) -> None:
    """Neither list, table, page nor fragment of the desk names what lies in the dishes, or what was read."""
    other.goto(f"{url}/results/measures")
    expect(other.locator("#measures .lead")).to_contain_text(f"{count} covered until its blind session is closed", timeout=20_000)
    number = other.locator("#measures li a").first.get_attribute("href").rsplit("/", 1)[1]
    for path in ("/results/measures", "/results/measures.csv", f"/results/measure/{number}", f"/frag/measure/{number}", f"/frag/measured/{number}"):
        answer = other.request.get(f"{url}{path}")
        assert answer.ok and not any(name in answer.text() for name in NAMES), path
    assert other.request.get(f"{url}/results/measures.csv").text().count("\r\n") == 1


@pytest.mark.parametrize("test", ["pull", "strip"])
def test_a_blind_session_of_a_measured_test_from_plan_to_desk(tablet_context, live_server, test):
    width, height = SIZES[test]
    context = tablet_context(viewport={"width": width, "height": height})
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    runs = runs_of(plan_session(page, live_server.url, test), 2, 1, 0)
    codes = [run["code"] for run in runs]
    for number, code in enumerate(codes):
        expect(page.locator("#code")).to_have_text(code)
        assert number or stumbles(page) == []
        measure_dish(page, test)
    expect(page.locator("#lead")).to_have_text("All 3 dishes are through.")
    assert tells_no_name(page)
    page.goto(f"{live_server.url}/bench/measure")
    expect(page.locator("#done-list")).to_contain_text(f"dish {codes[0]}")
    assert tells_no_name(page)

    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    other = tablet_context().new_page()
    desk_tells_nothing(other, live_server.url, 3)
    page.goto(f"{live_server.url}/bench")
    page.locator("#session-list a").first.click()
    close_session(page)
    expect(page.locator("#dishes")).to_contain_text(NAMES[1])
    expect(other.locator("#measures .lead")).to_contain_text("3 kept", timeout=20_000)
    other.goto(f"{live_server.url}/results")
    other.get_by_role("link", name="Session").first.click()
    expect(other.locator(".lead")).to_have_text("3 of 3 runs are kept.")
    assert [told.strip() for told in other.locator("table").first.locator("tbody th").all_inner_texts()] == codes
    expect(other.locator("table").nth(1)).to_contain_text(f"{NAMES[0]} (reference)")
    expect(other.locator("dl.facts dt", has_text="Dish")).to_have_count(3)
    starts = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "measure.started"]
    against = NAMES[:1] if test != "strip" else ()
    assert [[glass["name"] for glass in body["glasses"]] for body in starts] == [[*against, NAMES[run["glass"]]] for run in runs]
    assert [body["dishes"] for body in starts] == [[{"run": i, "code": run["code"], "letter": "AB"[len(against)], "place": ""}] for i, run in enumerate(runs)]


def test_a_fuse_session_goes_onto_one_board_in_its_order_by_code(tablet_context, live_server):
    context = tablet_context(viewport={"width": 820, "height": 1180})
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    codes = [run["code"] for run in runs_of(plan_session(page, live_server.url, "fuse"), 2, 1, 0)]
    expect(page.locator("#lead")).to_have_text("One firing of 3 dishes.")
    page.locator("#dishes button").nth(1).click()
    page.locator("[data-why=broken]").click()
    expect(page.locator("#lead")).to_have_text("One firing of 2 dishes.")
    page.locator("#dishes button", has_text="Do it after all").click()
    expect(page.locator("#lead")).to_have_text("One firing of 3 dishes.")
    assert stumbles(page) == []
    in_session(page, "#go")
    ready(page)
    expect(page.locator("#dish-words")).to_contain_text(", ".join(codes))
    page.locator("#begin").click()
    expect(page.locator("#task-title")).to_have_text("Lay the dishes out")
    squares = {square: page.locator(f"[data-square={square}] b").inner_text() for square in ("a1", "c1", "b2")}
    assert squares == dict(zip(("a1", "c1", "b2"), codes, strict=True)) and page.locator("#board b").count() == 3
    page.locator("[data-square=b1]").click()
    expect(page.locator("#task-title")).to_have_text("Lay the dishes out")  # what lies where, the session has said
    assert stumbles(page) == [] and tells_no_name(page)
    onward(page)
    for place in ("a1", "b2", "c1"):
        for quantity in ("mass_g", "height_before_mm", "width_before_mm"):
            page.locator("#task-value").fill(CHIP[quantity])
            onward(page)
        if place == "b2":
            page.reload()
            ready(page)
    read_card(page, "go")
    for _ in range(3):
        for card in (CHIP["height_after_mm"], CHIP["width_after_mm"], "Rounded", ""):
            read_card(page, card)
        assert tells_no_name(page)
    press_next(page)
    expect(page.locator("#lead")).to_have_text("All 3 dishes are through.")

    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    other = tablet_context().new_page()
    desk_tells_nothing(other, live_server.url, 1)
    close_session(page)
    expect(page.locator("#dishes")).to_contain_text(NAMES[1])
    expect(other.locator("#measures .lead")).to_contain_text("1 kept", timeout=20_000)
    other.locator("#measures li a").first.click()
    expect(other.locator("main")).to_contain_text(f"Square a1 (A, dish {codes[0]})")
    page.locator("#dishes a").first.click()
    expect(page.locator("[data-square=a1]")).to_contain_text(f"a1 · {codes[0]}")


@pytest.mark.parametrize("test", ["pull", "fuse"])
def test_such_a_session_needs_its_reference(browser_context, live_server, test):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench/plan")
    choose_for_plan(page, NAMES)
    page.locator("#test").select_option(test)
    page.locator("#make").click()
    expect(page.locator("#planned-error")).to_contain_text("Tick one glass as the reference")
    page.locator("#planned label").first.click()
    for _ in range(28 if test == "fuse" else 0):
        page.locator("[data-step='1']").click()
    page.locator("#make").click()
    if test == "fuse":
        expect(page.locator("#planned-error")).to_contain_text("That is 33 chips; a board holds 24")
    else:
        expect(page.locator("html[data-ready=session]")).to_be_attached()


def test_a_dish_begun_twice_goes_on_and_one_stopped_can_be_done_after_all(browser_context, live_server):
    page = browser_context().new_page()
    plan_session(page, live_server.url, "strip")
    in_session(page, "#go")
    ready(page)
    address = page.url
    page.locator("#begin").click()
    expect(page.locator("#part-run")).to_be_visible()
    begun = page.url
    page.goto(address)  # as by the way back, or a second tab
    expect(page.locator("#part-run")).to_be_visible()
    assert page.url == begun
    page.locator("#to-session").click()
    expect(page.locator("#go")).to_have_text("Go on with it")
    in_session(page, "#go")
    ready(page)
    stop_test(page, "burst while it cooled")
    page.locator("#to-session").click()
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    page.locator("#dishes button").first.click()
    expect(page.locator("#lead")).to_contain_text("Run 1 of 3")
    measure_dish(page, "strip")
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")


def test_what_a_covered_session_uses_of_a_piece_stands_in_its_ledger_once_it_is_closed(browser_context, live_server):
    """A ledger that followed dish by dish would tell what lay in them; what is heated already counts all the same against what is left (3 g, 1.6 g in each of two runs)."""
    piece = lent_piece(live_server.url, ["strip"])
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench/plan")
    expect(page.locator("html[data-ready=plan]")).to_be_attached()
    page.locator("#test").select_option("strip")
    page.locator("#piece-part summary").click()
    page.locator("#pieces button").first.click()
    page.locator("#search").fill(NAMES[0])
    page.locator("#choices button").last.click()
    page.locator("[data-step='-1']").click()
    page.locator("#mass").fill("1,6")
    page.locator("#make").click()
    expect(page.locator("#against-error")).to_be_visible()  # twice 1.6 g of 3 g
    page.locator("#mass").fill("1,2")
    page.locator("#make").click()
    expect(page.locator("html[data-ready=session]")).to_be_attached()
    aside = page.context.new_page()
    aside.goto(f"{live_server.url}/bench/strip")
    ready(aside)
    aside.locator("#search").fill("Demo sherd")
    expect(aside.locator("#choices")).to_contain_text("3 g left, of which 2.4 g are planned in an open session")
    aside.close()
    held_back = 0
    for _ in range(4):
        page.locator("#mass").fill("1,6")
        in_session(page, "#go")
        page.wait_for_function("() => document.documentElement.dataset.ready === 'measure' || document.getElementById('mass-error')?.textContent")
        if page.locator("#mass-error").is_visible():
            expect(page.locator("#mass-error")).to_contain_text("This dish may not be used")
            held_back += 1
            in_session(page, "#skip")
            page.locator("[data-why=broken]").click()
            continue
        begin_and_measure(page, "strip")
    assert held_back == 1
    assert [e for e in stored_on_tablet(page) if e["kind"] == "piece.used"] == []
    close_session(page)
    expect(page.locator("#lead")).to_contain_text("is closed: 3 of 4 runs were done")
    for _ in range(100):
        if any(e["kind"] == "piece.used" for e in stored_on_tablet(page)):
            break
        page.wait_for_timeout(100)
    page.goto(f"{live_server.url}/finds/piece?p={piece}")
    expect(page.locator("main")).to_contain_text("1.4 g")
    used = [e for e in stored_on_tablet(page) if e["kind"] == "piece.used"]
    assert [(e["subject"], e["body"]["mass_g"], e["body"]["test"]) for e in used] == [(piece, 1.6, "strip")]
