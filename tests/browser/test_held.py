"""What a tablet's own store refused is known on every page, is in the file, is tried again from any page, and is stored once."""

import json

from playwright.sync_api import expect

from tests.books import empty_book
from tests.browser.bench_page import GAP_MS, press, stored_at_desk, stored_on_tablet, to_the_flame, with_worker
from tests.browser.conftest import PHONE
from tests.browser.measure_page import begin, readings
from tests.browser.screen import audit, no_overflow
from tests.processes import isokom

FULL = """if (sessionStorage.getItem("full")) IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); };"""
UNREADABLE = """IDBFactory.prototype.open = () => { throw new DOMException("broken", "UnknownError"); };"""
BESIDE = "() => Object.keys(localStorage).filter((key) => key.startsWith('isokom-rescue:'))"


def fill_store(page, full: bool) -> None:
    """From the next page on, the tablet's store is full, or has room again."""
    page.evaluate("(full) => full ? sessionStorage.setItem('full', 'yes') : sessionStorage.removeItem('full')", full)


def test_a_press_that_was_refused_is_seen_saved_and_stored_from_other_pages(live_server, browser_context, tmp_path):
    page = browser_context(PHONE).new_page()
    page.add_init_script(FULL)
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    fill_store(page, full=True)
    page.reload()
    expect(page.locator("#press-word")).to_have_text("Sagged")
    page.wait_for_timeout(GAP_MS + 100)
    page.locator("#press").click()
    expect(page.get_by_role("alert")).to_contain_text("Not stored: this device is full")
    expect(page.locator("[data-sync-word]")).to_have_text("1 not stored yet")
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#sync-word")).to_have_text("1 not stored yet")
    expect(page.locator(".mark[data-state=held]")).to_have_text("not stored yet")
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#send-lead")).to_contain_text("1 not stored yet")
    expect(page.locator("#held-list li")).to_have_count(1)
    assert audit(page) == [] and no_overflow(page)
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save all entries to a file").click()
    expect(page.locator("#saved")).to_contain_text("2 entries are in the file")
    assert len(stored_on_tablet(page)) == 1
    other = tmp_path / "other desk" / "bench.db"
    told = isokom("unpack", "--database", str(empty_book(other)), str(saved.value.path())).stdout
    assert "2 new, 0 were here already" in told, told
    fill_store(page, full=False)
    page.goto(f"{live_server.url}/glass")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert page.evaluate(BESIDE) == []
    assert stored_at_desk(live_server.database) == stored_at_desk(other) == [(e["id"], e["kind"]) for e in stored_on_tablet(page)]


def test_a_reading_that_was_refused_is_stored_from_another_page_and_once(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.add_init_script(FULL)
    begin(page, live_server.url, "pull")
    before = len(stored_on_tablet(page))
    fill_store(page, full=True)
    page.reload()
    page.locator("#task-value").fill("6")
    page.locator("#task-value").blur()
    expect(page.locator("#alarm")).to_contain_text("tried again by itself")
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#held-list li")).to_have_count(1)
    fill_store(page, full=False)
    page.reload()
    expect(page.locator("#held-part")).to_be_hidden()
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(stored_on_tablet(page)) == before + 1 and list(readings(stored_on_tablet(page)).values()) == [6.0]
    page.go_back()
    expect(page.locator("#task-value")).to_be_visible()
    page.wait_for_timeout(1500)
    assert len(stored_on_tablet(page)) == before + 1


def test_a_store_that_cannot_be_read_is_said_and_nothing_is_begun_on_it(live_server, chromium, request):
    context = chromium.new_context(viewport=PHONE, has_touch=True)  # not browser_context: the store's own errors are meant to reach the console here
    request.addfinalizer(context.close)
    page = context.new_page()
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    page.evaluate("""() => localStorage.setItem("isokom-rescue:demo", JSON.stringify([{ id: "demo", kind: "trial.pressed", subject: "demo", n: 1, at_ms: 1, body: {} }]))""")
    page.add_init_script(UNREADABLE)
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#store-broken")).to_contain_text("Do not clear the browser’s data")
    expect(page.locator("#sync-word")).to_have_text("This device's store cannot be read")
    expect(page.locator("#quick-chips")).to_be_hidden()
    assert audit(page) == [] and no_overflow(page)
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#send-lead")).to_contain_text("cannot be read just now")
    expect(page.locator("#total")).to_have_text("not known")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save all entries to a file").click()
    expect(page.locator("#saved")).to_contain_text("in the file is the one entry kept beside it")
    lines = saved.value.path().read_text().splitlines()
    assert [json.loads(line)["id"] for line in lines[1:]] == ["demo"]


def test_the_sending_page_says_that_the_desk_is_away(live_server, tablet_context):
    page = tablet_context(PHONE).new_page()
    with_worker(page, live_server.url)
    live_server.kill()
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#send-lead")).to_have_text("All sent: the desk has confirmed everything that this tablet has recorded. It does not answer just now.")


def test_a_form_that_cannot_be_sent_stays_as_it_is(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/exchange")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    page.context.set_offline(True)
    page.locator("#link").fill("https://desk-invented.local:8765/join#c=abc")
    page.get_by_role("button", name="Join and exchange").click()
    expect(page.locator("#desk-trouble")).to_contain_text("cannot be sent now")
    assert page.url.endswith("/exchange") and page.locator("#link").input_value().endswith("#c=abc")
    expect(page.get_by_role("button", name="Join and exchange")).to_be_enabled()
