"""A device tries itself before its first trial; on an iPad's tab nothing new is begun before a person has read why not; a page opened under another name says so."""

import json
import re
import sqlite3
from contextlib import closing

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.browser.find_page import with_worker
from tests.browser.screen import audit, no_overflow
from tests.browser.test_lan import IPAD, code_at

SLEEP = """() => {
  const sleep = (on) => { Object.defineProperty(document, "visibilityState", { value: on ? "hidden" : "visible", configurable: true }); document.dispatchEvent(new Event("visibilitychange")); };
  sleep(true);
  const [wall, mono] = [Date.now.bind(Date), performance.now.bind(performance)];
  Date.now = () => wall() + 30_000;
  performance.now = () => mono() + (window.stands ? 0 : 30_000);
  sleep(false);
}"""


def check(page: Page, label: str) -> Locator:
    return page.locator(".checks li").filter(has=page.locator(".label", has_text=re.compile(f"^{label}:")))


def result(page: Page, label: str) -> str:
    return check(page, label).get_attribute("class")


def tried(page: Page, url: str) -> None:
    page.goto(f"{url}/device")
    expect(page.locator("html[data-ready=device]")).to_be_attached()


def test_every_check_says_something_and_the_desk_shows_it(live_server, tablet, database):
    with_worker(tablet, live_server.url)
    tried(tablet, live_server.url)
    rows = tablet.locator(".checks li")
    assert rows.count() == 13 and all(row.locator("span").last.text_content().endswith((".", "?")) for row in rows.all())
    assert {result(tablet, label) for label in ("Secure address", "Writing to disk", "Without a network", "The desk", "The clock of the day", "The stopwatch")} == {"good"}
    expect(tablet.locator("#verdict")).to_contain_text("Fit for the bench")
    assert audit(tablet) == [] and no_overflow(tablet)
    tablet.get_by_role("button", name="Try it with the screen locked").tap()
    tablet.evaluate(SLEEP)
    expect(tablet.locator("#locked-words")).to_have_text("The stopwatch ran on for all 30 s.")
    tablet.get_by_role("button", name="Keep this result").tap()
    expect(tablet.locator("#kept")).to_contain_text("Kept.")
    expect(tablet.get_by_role("button", name="Keep this result")).to_be_disabled()  # not twice
    expect(tablet.locator("#sync-word")).to_have_text("All sent")
    with closing(sqlite3.connect(database)) as connection:
        ((subject, device, body),) = connection.execute("SELECT subject, device, body FROM bench_entry WHERE kind = 'device.tested'").fetchall()
    assert subject == device and {check["key"]: check["result"] for check in json.loads(body)["checks"]}["locked"] == "good"
    tablet.goto(f"{live_server.url}/devices")
    tablet.locator(".tested summary").tap()
    expect(tablet.locator(".tested")).to_contain_text("The stopwatch ran on for all 30 s.")
    assert no_overflow(tablet)


def test_a_stopwatch_that_stands_still_in_the_dark_is_noticed(live_server, page):
    tried(page, live_server.url)
    page.evaluate("() => { window.stands = true; }")
    page.get_by_role("button", name="Try it with the screen locked").tap()
    page.evaluate(SLEEP)
    expect(page.locator("#locked-words")).to_contain_text("stood still while the screen was locked (30 s by the clock of the day)")
    assert result(page, "Stopwatch over a locked screen") == "mind"


def test_a_page_that_was_thrown_away_in_the_dark_is_noticed(live_server, page):
    tried(page, live_server.url)
    page.get_by_role("button", name="Try it with the screen locked").tap()
    page.evaluate("() => { const kept = JSON.parse(sessionStorage['isokom-locked-began']); kept.wall_ms -= 30_000; sessionStorage['isokom-locked-began'] = JSON.stringify(kept); }")
    tried(page, live_server.url)
    expect(page.locator("#locked-words")).to_contain_text("threw this page away")


def test_without_a_desk_and_with_a_wrong_clock_it_is_said(live_server, tablet):
    with_worker(tablet, live_server.url)
    tablet.add_init_script("const now = Date.now.bind(Date); Date.now = () => now() + 26 * 3600_000;")
    tried(tablet, live_server.url)
    expect(check(tablet, "The clock of the day")).to_contain_text("26 hours ahead of the desk’s")
    tablet.add_init_script("const later = Date.now.bind(Date); Date.now = () => later() + 600_000 * 3600_000;")
    tried(tablet, live_server.url)
    expect(check(tablet, "The clock of the day")).to_contain_text("68 years ahead of the desk’s")
    tablet.context.set_offline(True)
    tried(tablet, live_server.url)
    assert (result(tablet, "The desk"), result(tablet, "The clock of the day")) == ("mind", "unknown")
    tablet.get_by_role("button", name="Keep this result").tap()
    expect(tablet.locator("#kept")).to_contain_text("Kept.")


@pytest.fixture
def ipad(desk, trusting):
    """(a page of an iPad's browser at the desk's secure address, that address)."""
    context = trusting(desk, user_agent=IPAD)
    return context.new_page(), f"https://isokom-demo.local:{desk.lan_port}", desk


def joined(page: Page, desk) -> None:
    page.goto(f"https://isokom-demo.local:{desk.lan_port}/join")
    page.locator("#code").fill(code_at(desk))
    page.get_by_role("button", name="Join", exact=True).click()
    page.wait_for_url("**/device")
    expect(page.locator("html[data-ready=device]")).to_be_attached()


def test_in_an_ipads_tab_nothing_is_begun_unless_it_has_to_be(ipad):
    page, url, desk = ipad
    joined(page, desk)
    assert result(page, "Home screen") == "bad"
    expect(page.locator("#verdict")).to_contain_text("Not fit for the bench yet: home screen")
    for path in ("/bench/new", "/bench/plan", "/bench/measure"):
        page.goto(f"{url}{path}")
        expect(page.locator("#home-first")).to_be_visible()
        assert page.locator("main > :visible").count() == 1
        assert audit(page) == [] and no_overflow(page)
    page.get_by_role("button", name="Record here all the same").click()
    expect(page.locator("#home-first")).to_have_count(0)
    page.goto(f"{url}/bench/new")
    expect(page.locator("main > :visible").first).to_be_visible()
    expect(page.locator("#home-first")).to_have_count(0)


def test_from_the_home_screen_it_is_begun_at_once(ipad):
    page, url, desk = ipad
    page.add_init_script("Object.defineProperty(navigator, 'standalone', { value: true })")
    joined(page, desk)
    assert result(page, "Home screen") == "good"
    page.goto(f"{url}/bench/new")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    expect(page.locator("#home-first")).to_have_count(0)


def test_a_page_opened_under_another_name_names_the_address_that_counts(ipad):
    page, url, desk = ipad
    joined(page, desk)
    expect(page.locator("#other-place")).to_have_count(0)
    other = f"https://localhost.:{desk.lan_port}"  # a name of the desk too, and not the one that tablets know
    page.goto(f"{other}/join")
    page.locator("#code").fill(code_at(desk))
    page.get_by_role("button", name="Join", exact=True).click()
    page.wait_for_url("**/device")
    expect(page.locator("#other-place")).to_contain_text(f"opened as {other}")
    assert page.locator("#other-place a").get_attribute("href") == f"{url}/device"
    assert audit(page) == [] and no_overflow(page)
    page.get_by_role("button", name="Understood").click()
    page.goto(f"{other}/sync")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    expect(page.locator("#other-place")).to_have_count(0)
