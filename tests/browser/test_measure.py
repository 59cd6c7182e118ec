"""Measured tests on a tablet: offline with a reload in the middle, every value kept, changed only with a reason, reckoned when the desk is back."""

import base64

import pytest
from playwright.sync_api import expect

from server.measure.log import measured_from
from tests.browser.bench_page import stored_on_tablet, with_worker
from tests.browser.conftest import PHONE, TABLET
from tests.browser.measure_page import CARDS, READ, begin, bench_entries, onward, press_next, read_card, readings, ready, shown, stumbles
from tests.browser.screen import open_all, settled
from tests.browser.test_trial import REFUSE

AWAY = "The result is reckoned at the desk; your readings are kept here."


@pytest.mark.parametrize(("test", "viewport"), [(test, (PHONE, TABLET)[place % 2]) for place, test in enumerate(CARDS)], ids=[f"{test}-{('phone', 'tablet')[place % 2]}" for place, test in enumerate(CARDS)])
def test_a_whole_test_without_a_network_and_its_result_when_the_desk_is_back(live_server, tablet_context, test, viewport):
    context = tablet_context(viewport)
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    number = begin(page, live_server.url, test)
    found = {}
    for card in CARDS[test]:
        found[shown(page)] = stumbles(page)
        read_card(page, card)
    assert {card: said for card, said in found.items() if said} == {}
    expect(page.locator("#next")).to_have_text("Keep")
    press_next(page)
    expect(page.locator("#task-title")).to_have_text("This test is kept")
    expect(page.locator("#desk-word")).to_have_text(AWAY)
    entries = stored_on_tablet(page)
    assert readings(entries) == READ[test]
    assert [e["kind"] for e in entries] == ["measure.started", *["measure.read"] * len(READ[test]), "measure.kept"] and bench_entries(live_server.database) == []
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent")
    expect(page.locator("#result .lead")).to_be_visible()
    expect(page.locator("#desk-word")).to_be_hidden()
    assert bench_entries(live_server.database) == [(e["id"], e["kind"]) for e in entries]
    told = page.locator("#result .lead").inner_text()
    open_all(page)
    assert stumbles(page) == []
    desk = tablet_context(TABLET).new_page()
    desk.goto(f"{live_server.url}/results")
    desk.get_by_role("link", name="Measured tests").click()
    desk.locator(".openables a").click()
    expect(desk).to_have_url(f"{live_server.url}/results/measure/{number}")
    assert desk.locator("main .lead").inner_text() == told
    settled(desk)
    open_all(desk)
    assert stumbles(desk) == []


@pytest.mark.parametrize("test", CARDS)
def test_a_value_that_is_only_typed_survives_the_page(live_server, tablet_context, test):
    page = tablet_context(PHONE).new_page()
    with_worker(page, live_server.url)
    live_server.kill()
    begin(page, live_server.url, test)
    if test == "fuse":
        read_card(page, ("lay", "a1", "A"))
    while not page.locator("#task-value").is_visible():
        onward(page)
    page.locator("#task-value").press_sequentially("91" if test == "strip" else "12")
    page.reload()
    ready(page)
    kept = readings(stored_on_tablet(page))
    assert (91.0 if test == "strip" else 12.0) in kept.values()
    assert page.locator("#task-value").input_value() in ("91.0", "12.00", "12")
    assert page.evaluate("() => Object.keys(localStorage).filter((key) => key.startsWith('isokom-measure-draft'))") == []


def test_the_copy_beside_the_store_is_enough_when_the_page_dies_at_once(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    number = begin(page, live_server.url, "pull")
    page.evaluate("() => { IDBObjectStore.prototype.add = () => { throw new DOMException('full', 'QuotaExceededError'); }; }")
    page.locator("#more").click()
    expect(page.get_by_role("alert").first).to_contain_text("this device is full")
    assert readings(stored_on_tablet(page)) == {}
    page.goto(f"{live_server.url}/bench/measure")
    page.get_by_role("link", name="Pull test of").click()
    ready(page)
    assert readings(stored_on_tablet(page)) == {"1/before_1_mm": 6.0} and page.url.endswith(number)


def test_a_store_that_refuses_is_told_and_tried_again(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.evaluate(REFUSE)
    page.locator("#more").click()
    expect(page.locator("#alarm")).to_contain_text("tried again by itself")
    page.evaluate("() => window.allowStore()")
    expect(page.locator("#alarm")).to_be_hidden()
    assert readings(stored_on_tablet(page)) == {"1/before_1_mm": 6.0}


def test_steps_begin_at_the_reading_beside_and_rest_before_they_are_recorded(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").fill("5,4")
    onward(page)
    expect(page.locator("#task-before")).to_have_text("Before: 5.40\u202fmm")
    for _ in range(4):
        page.locator("#more").click()
    expect(page.locator("#task-value")).to_have_value("5.55")
    page.locator("#less").click()
    onward(page)
    entries = stored_on_tablet(page)
    assert readings(entries) == {"1/before_1_mm": 5.4, "1/before_2_mm": 5.5} and len(entries) == 3
    page.locator("#more").click()
    expect(page.locator("#task-value")).to_have_value("5.40")
    page.wait_for_timeout(900)
    assert readings(stored_on_tablet(page))["2/before_1_mm"] == 5.4


def test_a_number_that_cannot_be_meant_holds_the_card(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    for typed, said in (("605", "cannot be meant"), ("six", "no number yet"), ("-3", "cannot be meant")):
        page.locator("#task-value").fill(typed)
        press_next(page)
        expect(page.locator("#task-error")).to_contain_text(said)
        expect(page.locator("#task-label")).to_have_text("Thickness before the pull")
    assert readings(stored_on_tablet(page)) == {}


def test_a_change_after_keeping_asks_for_its_reason(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "thread")
    for card in [card for card in CARDS["thread"] if card != "reload"]:
        read_card(page, card)
    expect(page.locator("#next")).to_have_text("Keep")
    press_next(page)
    page.get_by_role("button", name="Thread 1, bow: 6.5").click()
    page.locator("#task-value").fill("3.5")
    expect(page.locator("#next")).to_have_text("Record the change")
    press_next(page)
    expect(page.locator("#task-error")).to_contain_text("why it is changed")
    assert readings(stored_on_tablet(page))["1/bow_mm"] == 6.5
    page.get_by_label("Why is it changed?").fill("read the wrong line")
    expect(page.locator("#next")).to_have_text("Record the change")
    press_next(page)
    expect(page.get_by_role("button", name="Thread 1, bow: 3.5")).to_have_text("3.5 *")
    last = stored_on_tablet(page)[-1]["body"]
    assert (last["value"], last["why"]) == (3.5, "read the wrong line")
    page.get_by_role("button", name="Thread 1, bow: 3.5").click()
    expect(page.locator("#task-before")).to_have_text("Earlier: 6.5\u202fmm")
    expect(page.locator("#next")).to_have_text("Done")
    press_next(page)
    assert stored_on_tablet(page)[-1]["body"] == last


def test_another_thread_and_another_strip_have_room_up_to_the_last(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "thread")
    for card in [card for card in CARDS["thread"] if card != "reload"]:
        read_card(page, card)
    for place in range(2, 7):
        page.get_by_role("button", name="Another thread").click()
        expect(page.locator("#task-title")).to_have_text(f"Thread {place}")
        for card in CARDS["thread"][1:]:
            read_card(page, card) if card != "reload" else None
    expect(page.get_by_role("button", name="Another thread")).to_be_hidden()
    assert len(readings(stored_on_tablet(page))) == 30
    page.reload()
    ready(page)
    expect(page.locator("#place-row button")).to_have_count(6)


def test_a_chip_is_laid_changed_and_taken_away(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "fuse")
    page.get_by_label("6\u00a0×\u00a08").check()
    read_card(page, ("lay", "f8", "B"))
    read_card(page, ("lay", "f8", "A"))
    expect(page.get_by_label("3\u00a0×\u00a04")).to_be_disabled()  # the chip on f8 would lie beside it
    read_card(page, ("lay", "a1", "B"))
    page.locator("[data-square=f8]").click()
    expect(page.locator("#task-title")).to_contain_text("Square f8")  # else the choice of the card before is taken for it
    page.locator("#word-choices [aria-pressed=true]").click()
    onward(page)
    assert readings(stored_on_tablet(page)) == {"a1/glass": "B"}
    page.reload()
    ready(page)
    expect(page.locator("#board .laid")).to_have_count(1)


def test_the_caution_stands_on_the_card_before_the_hot_step(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "strip")
    card = page.locator("#task-caution")
    expect(card.locator("[data-caution=strip]")).to_contain_text("throw splinters")
    expect(page.locator("#task-hint")).to_contain_text("on edge, at 45° between the crossed sheets. Opaque glass cannot be read: use a thread.")
    assert stumbles(page) == []
    card.locator("[data-caution=strip] [data-caution-read]").click()
    expect(card.get_by_text("throw splinters")).to_be_hidden()
    onward(page)
    expect(card).to_be_hidden()


def test_the_desk_page_of_a_test_follows_the_bench_by_itself(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    number = begin(page, live_server.url, "pull")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    desk = browser_context(TABLET).new_page()
    desk.goto(f"{live_server.url}/results/measure/{number}")
    assert "6.05" not in desk.locator("main").inner_text()
    page.locator("#task-value").fill("6.05")
    onward(page)
    expect(desk.locator("#measured")).to_contain_text("6.05", timeout=15_000)


def test_a_firing_is_foretold_on_the_page_of_the_board(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "fuse", ("Modern float", "Modern float"))
    expect(page.locator("#result")).to_contain_text("What this firing would do", timeout=15_000)
    expect(page.locator("#result")).to_contain_text("would drop some")
    assert stumbles(page) == []


def test_notes_a_photo_and_stopping(live_server, browser_context, tmp_path):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "fuse")
    read_card(page, ("lay", "a1", "A"))
    data = page.evaluate("""() => { const c = document.createElement("canvas"); [c.width, c.height] = [3000, 2000];
      const ink = c.getContext("2d"); for (let i = 0; i < 3000; i += 1) { ink.fillStyle = `hsl(${(i * 37) % 360} 80% 50%)`; ink.fillRect((i * 97) % 3000, (i * 61) % 2000, 90, 60); }
      return c.toDataURL("image/png").split(",")[1]; }""")
    page.locator("#photo-place").select_option("a1")
    page.get_by_label("Words to it").fill("Before firing")
    page.locator("#photo-file").set_input_files({"name": "big.png", "mimeType": "image/png", "buffer": base64.b64decode(data)})
    expect(page.locator("#photos figcaption")).to_have_text("Square a1: Before firing")
    page.locator("#photo-file").set_input_files({"name": "not.jpg", "mimeType": "image/jpeg", "buffer": b"no picture at all"})
    expect(page.locator("#photo-say")).to_contain_text("no picture that this tablet can read")
    page.get_by_label("What you saw").fill("a draught")
    page.get_by_role("button", name="Add", exact=True).click()
    expect(page.locator("#notes li")).to_have_text("a draught")
    page.get_by_text("Stop this test").click()
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#reason-error")).to_have_text("Say in a few words why.")
    page.get_by_label("Why (it stays in the book").fill("the shelf broke")
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#run-lead")).to_contain_text("Stopped: the shelf broke")
    shot = next(e["body"] for e in stored_on_tablet(page) if e["kind"] == "measure.photo")
    assert (shot["width"], shot["height"], shot["place"]) == (1280, 853, "a1") and len(shot["jpeg"]) <= 350_000
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(bench_entries(live_server.database)) == 5


def test_the_choice_of_tests_lists_those_on_this_tablet(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench")
    page.get_by_role("link", name="Measure a glass").click()
    ready(page)
    settled(page)
    assert stumbles(page) == []
    begin(page, live_server.url, "strip")
    page.goto(f"{live_server.url}/bench/measure")
    page.get_by_role("link", name="Strip test of Demo unknown").click()
    expect(page.locator("#task-title")).to_have_text("Melt the strips on")
    page.goto(f"{live_server.url}/bench/pull?m={page.url.split('m=')[1]}")
    expect(page.get_by_text("No test of this number is on this tablet.")).to_be_visible()


@pytest.mark.parametrize("viewport", [PHONE, TABLET], ids=["phone", "tablet"])
@pytest.mark.parametrize("test", CARDS)
def test_the_form_names_its_fields_and_lets_a_glove_hit_them(live_server, browser_context, test, viewport):
    page = browser_context(viewport).new_page()
    page.goto(f"{live_server.url}/bench/{test}")
    settled(page)
    open_all(page)
    assert stumbles(page) == []


def test_page_and_desk_gather_a_test_alike(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "fuse")
    for card in [card for card in CARDS["fuse"] if card != "reload"][:9]:
        read_card(page, card)
    page.get_by_role("button", name="Square a1, mass: 0.50").click()
    page.locator("#task-value").fill("0.6")
    onward(page)
    page.get_by_role("button", name="Square c1, glass: B").click()
    page.locator("#word-choices [aria-pressed=true]").click()
    onward(page)
    entries = stored_on_tablet(page)
    gathered = page.evaluate("""async (entries) => {
      const { measuredFrom, nameOf } = await import(document.querySelector("script[src*='/measure/']").src.replace("fuse.js", "tests.js"));
      const made = measuredFrom(entries);
      return { readings: Object.fromEntries(made.readings), changes: Object.fromEntries([...made.history].map(([place, all]) => [place, all.map((one) => one.said)])), status: made.status, name: nameOf(made) };
    }""", entries[::-1])
    made = measured_from(entries)
    assert gathered["readings"] == {"/".join(place): said for place, said in made.readings.items()}
    assert gathered["changes"] == {"/".join(place): [one.said for one in changes] for place, changes in made.history.items()}
    assert gathered["status"] == made.status == "running" and gathered["name"] in page.locator("#run-lead").inner_text()
