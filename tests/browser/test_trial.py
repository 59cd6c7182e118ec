"""A torch trial in a real browser: presses, slips, sleep of the page, other tabs, clocks that jump, a store that refuses."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import GAP_MS, press, stored_on_tablet, to_the_flame
from tests.browser.conftest import PHONE, TABLET

REFUSE = """() => {
  const put = IDBObjectStore.prototype.add;
  window.allowStore = () => (IDBObjectStore.prototype.add = put);
  IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); };
}"""


@pytest.mark.parametrize("viewport", [PHONE, TABLET], ids=["phone", "tablet"])
def test_from_home_to_a_running_clock_in_four_taps_and_again_in_two(live_server, browser_context, viewport):
    page = browser_context(viewport).new_page()
    page.goto(f"{live_server.url}/glass")
    page.get_by_role("link", name="Bench", exact=True).click()
    page.locator("#quick-chips .chip").first.click()
    page.get_by_role("button", name="To the flame").click()
    page.wait_for_timeout(GAP_MS)
    page.locator("#press").click()
    expect(page.locator("#clock-word")).to_have_text("since into the flame")
    page.wait_for_timeout(GAP_MS)
    press(page, 1, 4)
    page.get_by_role("button", name="Keep", exact=True).click()
    page.get_by_role("button", name="Again, same glass").click()
    page.wait_for_timeout(GAP_MS)
    page.locator("#press").click()
    expect(page.locator("#press-word")).to_have_text("Sagged")


def test_the_press_area_fills_the_lower_part_and_no_navigation_is_on_screen(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    area, stop, back = (page.locator(f"#{name}").bounding_box() for name in ("press", "stop", "take-back"))
    assert area["width"] == PHONE["width"] - 32 and area["y"] >= 0.4 * PHONE["height"] - 60 and area["height"] >= 300
    assert stop["height"] >= 64 and back["height"] >= 64 and stop["y"] - (area["y"] + area["height"]) >= 16
    assert stop["y"] + stop["height"] <= PHONE["height"]
    expect(page.locator(".places")).to_be_hidden()


def test_times_are_those_of_the_fingers(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.add_init_script("window.downs = []; addEventListener('pointerdown', (e) => downs.push(e.timeStamp), true)")
    to_the_flame(page, live_server.url)
    page.evaluate("() => { window.downs = []; }")
    press(page, 0, 5)
    downs = page.evaluate("() => downs")
    sag, around, out, glow = [float(t) for t in page.locator("#times td.n").evaluate_all("(all) => all.map((c) => c.firstChild.textContent)")]
    want = [downs[1] - downs[0], downs[2] - downs[0], downs[3] - downs[0], downs[4] - downs[3]]
    assert [sag, around, out, glow] == pytest.approx([w / 1000 for w in want], abs=0.0501)


def test_keys_and_pedals_press_but_not_on_other_controls(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    page.wait_for_timeout(GAP_MS)
    for key, word in (("Shift", "Into the flame"), ("F9", "Into the flame"), ("PageDown", "Sagged"), ("Tab", "Sagged")):
        page.keyboard.press(key)
        expect(page.locator("#press-word")).to_have_text(word)
    page.locator("#take-back").focus()
    page.wait_for_timeout(GAP_MS)
    page.keyboard.press("b")
    expect(page.locator("#press-word")).to_have_text("Sagged")
    page.locator("#press").focus()
    page.keyboard.press("Space")
    expect(page.locator("#press-word")).to_have_text("Round")
    page.wait_for_timeout(GAP_MS)
    page.keyboard.press("Enter")
    expect(page.locator("#press-word")).to_have_text("Out of the flame")
    assert [e["kind"] for e in stored_on_tablet(page)] == ["trial.started", "trial.pressed", "trial.pressed"]


def test_a_click_without_a_finger_is_one_press(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    page.wait_for_timeout(GAP_MS)
    page.evaluate("() => document.querySelector('#press').click()")
    expect(page.locator("#press-word")).to_have_text("Sagged")


def test_a_second_press_within_half_a_second_is_not_counted_and_said_so(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    page.wait_for_timeout(2 * GAP_MS)  # a page that has just opened takes no press, and says nothing of it
    page.locator("#press").dblclick()
    expect(page.locator("#run-say")).to_contain_text("not counted")
    expect(page.locator("#press-word")).to_have_text("Sagged")
    assert len(stored_on_tablet(page)) == 1


def test_take_back_and_stop_leave_everything_in_the_book(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    page.get_by_role("button", name="Take back").click()
    expect(page.locator("#press-word")).to_have_text("Sagged")
    page.get_by_role("button", name="Take back").click()
    expect(page.locator("#press-word")).to_have_text("Into the flame")
    press(page, 0, 1)
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Cracked").click()
    expect(page.locator("#summary-lead")).to_contain_text("Stopped: cracked")
    kinds = [e["kind"].removeprefix("trial.") for e in stored_on_tablet(page)]
    assert kinds == ["started", "pressed", "taken_back", "taken_back", "started", "abandoned"]


def test_a_reload_in_the_middle_goes_on_and_says_so(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    page.reload()
    press(page, 2, 3)
    expect(page.locator("#flags")).to_contain_text("loaded anew")
    assert re.fullmatch(r"\d+\.\d", page.locator("#times td.n").nth(1).evaluate("(c) => c.firstChild.textContent"))


def test_two_tabs_one_clock(live_server, browser_context):
    context = browser_context(PHONE)
    first, second = context.new_page(), context.new_page()
    to_the_flame(first, live_server.url)
    press(first, 0, 1)
    second.goto(first.url)
    expect(second.get_by_text("being timed in another tab")).to_be_visible()
    second.get_by_role("button", name="Take over here").click()
    expect(first.get_by_text("being timed in another tab")).to_be_visible()
    press(second, 1, 1)
    first.keyboard.press("Space")
    assert [e["n"] for e in stored_on_tablet(second)] == [0, 1]
    second.close()
    expect(first.locator("#press-word")).to_have_text("Round")


def test_a_wall_clock_set_back_does_not_touch_the_time(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.add_init_script("const now = Date.now.bind(Date); window.back = 0; Date.now = () => now() - window.back")
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    page.evaluate("() => { window.back = 3600000; }")
    press(page, 1, 4)
    expect(page.locator("#flags")).to_contain_text("clock was set in between")
    times = page.locator("#times td.n").evaluate_all("(all) => all.map((c) => Number(c.firstChild.textContent))")
    assert all(0.5 < t < 60 for t in times)


def test_a_store_that_refuses_is_loud_and_nothing_is_lost(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    page.evaluate(REFUSE)
    page.locator("#press").click()
    expect(page.get_by_role("alert")).to_contain_text(re.compile(r"Not stored: this device is full.*Sagged \d+\.\d\d s", re.S))
    assert len(stored_on_tablet(page)) == 1
    page.wait_for_timeout(GAP_MS)
    press(page, 2, 1)
    expect(page.locator("#alarm-times li")).to_have_count(2)
    page.reload()
    expect(page.locator("#press-word")).to_have_text("Out of the flame")
    expect(page.get_by_role("alert")).to_be_hidden()
    assert [(e["n"], e["body"].get("stage")) for e in stored_on_tablet(page)] == [(0, None), (1, "sagged"), (2, "round")]


def test_a_find_is_heated_only_with_consent_and_commas_are_read(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/new")
    page.get_by_label("A piece of a find").check()
    page.get_by_label("Find number or label").fill("DEMO-17")
    page.locator("#mass").fill("2,5")
    page.get_by_role("button", name="To the flame").click()
    expect(page.locator("#consent-error")).to_contain_text("agreement")
    page.get_by_label("The keeper has agreed to heating this piece").check()
    page.get_by_role("button", name="To the flame").click()
    press(page, 0, 1)
    body = stored_on_tablet(page)[0]["body"]
    assert (body["piece"], body["consent"], body["mass_g"], body["glass_key"]) == ("DEMO-17", True, 2.5, None)


def test_an_odd_mass_is_said_and_a_wrong_one_stops(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/new")
    page.locator("#chips .chip").first.click()
    page.locator("#mass").fill("8")
    expect(page.locator("#mass-warning")).to_contain_text("outside the usual")
    page.locator("#mass").fill("two")
    page.get_by_role("button", name="To the flame").click()
    expect(page.locator("#number-error")).to_contain_text("grams")
