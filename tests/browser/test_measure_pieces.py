"""Pieces of finds in measured tests: consent, limits, each once, and their ledger."""

import httpx
from playwright.sync_api import expect

from tests.browser.bench_page import stored_on_tablet
from tests.browser.conftest import PHONE
from tests.browser.measure_page import choose, ready, stumbles
from tests.finds import added, consent, opened, subject, weighed


def lent_piece(url: str, tests: list[str]) -> str:
    """A piece of an invented find with its keeper's consent, at the desk; its id."""
    find, piece = subject(), subject()
    told = [opened(find), consent(find, tests=tests), added(piece, find, glass_key="ver-ven-2", glass_name="Demo natron glass", link="like"), weighed(piece, 3.0)]
    assert {v["verdict"] for v in httpx.post(f"{url}/sync/push", json={"entries": told}).json()["verdicts"]} == {"stored"}
    return piece


def test_a_piece_of_a_find_is_heated_only_with_consent(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/pull")
    ready(page)
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#glass-error")).to_have_text("Choose 2 glasses first.")
    choose(page, ("Modern float", "Demo unknown"))
    page.get_by_label("A piece of a find").nth(1).check()
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#glass-error")).to_contain_text("find number")
    page.locator("#piece-B").fill("DEMO-17")
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#consent-error")).to_contain_text("agreement")
    assert stumbles(page) == [] and stored_on_tablet(page) == []
    page.get_by_label("The keeper has agreed").check()
    page.locator("#rod-letters button").nth(1).click()
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#place-row button")).to_have_count(4)
    body = stored_on_tablet(page)[0]["body"]
    assert (body["consent"], [g["piece"] for g in body["glasses"]], body["setup"]["pattern"]) == (True, [None, "DEMO-17"], "ABAB")
    expect(page.locator("#sync-word")).to_have_text("All sent")


def test_a_piece_of_the_ledger_is_used_within_its_consent(live_server, browser_context):
    piece = lent_piece(live_server.url, ["pull"])
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/thread")
    ready(page)
    choose(page, ("Modern float", "Demo sherd"))
    expect(page.locator("#against-list")).to_contain_text("does not name the thread test")
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#against-error")).to_contain_text("A piece is not used")
    assert stored_on_tablet(page) == [] and stumbles(page) == []
    page.goto(f"{live_server.url}/bench/pull")
    ready(page)
    choose(page, ("Modern float", "Demo sherd"))
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#against-error")).to_contain_text("Give the mass of piece B")
    page.get_by_label("Mass that is used up").fill("0,5")
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#part-run")).to_be_visible()
    kept = {e["kind"]: e for e in stored_on_tablet(page)}
    glass = kept["measure.started"]["body"]["glasses"][1]
    assert set(kept) == {"measure.started", "piece.used"} and (glass["piece_id"], glass["mass_g"], glass["key"]) == (piece, 0.5, "ver-ven-2")
    assert kept["measure.started"]["body"]["consent"] is True
    assert kept["piece.used"]["body"] == {"mass_g": 0.5, "test": "pull", "trial": kept["measure.started"]["subject"]}
    expect(page.locator("#sync-word")).to_have_text("All sent")


def test_a_piece_of_the_ledger_lies_in_a_test_once(live_server, browser_context):
    lent_piece(live_server.url, ["pull"])
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/pull")
    ready(page)
    choose(page, ("Modern float", "Demo sherd"))
    page.locator("#add-glass").click()
    page.locator("#search").fill("Demo sherd")
    page.locator("#choices button").first.click()
    expect(page.locator("#glass-error")).to_contain_text("is chosen already, as glass B")
    expect(page.locator("#glass-rows > li")).to_have_count(2)
    page.locator("#search").fill("Demo unknown")
    page.locator("#choices button").first.click()
    expect(page.locator("#glass-rows > li")).to_have_count(3)
    expect(page.locator("#glass-error")).to_be_hidden()


def test_two_pieces_of_a_find_are_weighed_together_against_its_limit(live_server, browser_context):
    find, one, other = subject(), subject(), subject()
    told = [opened(find), consent(find, tests=["fuse"], limit_g=1.0)]
    for piece, label in ((one, "Demo sherd one"), (other, "Demo sherd two")):
        told += [added(piece, find, label=label, glass_key="ver-ven-2", glass_name="Demo natron glass", link="like"), weighed(piece, 3.0)]
    assert {v["verdict"] for v in httpx.post(f"{live_server.url}/sync/push", json={"entries": told}).json()["verdicts"]} == {"stored"}
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/fuse")
    ready(page)
    choose(page, ("Demo sherd one", "Demo sherd two"))
    page.locator("#mass-A").fill("0.6")
    page.locator("#mass-B").fill("0.3")
    expect(page.locator("#against")).to_be_hidden()
    page.locator("#mass-B").fill("0.6")
    expect(page.locator("#against-list")).to_contain_text("whole find")
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#against-error")).to_contain_text("go on all the same")


def test_a_use_that_the_full_device_refused_is_written_when_the_page_opens_and_only_once(live_server, browser_context):
    piece = lent_piece(live_server.url, ["pull"])
    page = browser_context(PHONE).new_page()
    page.add_init_script("""if (!sessionStorage.getItem("room")) { const add = IDBObjectStore.prototype.add;
      IDBObjectStore.prototype.add = function (row, ...more) { if (row.kind === "piece.used") throw new DOMException("full", "QuotaExceededError"); return add.call(this, row, ...more); }; }""")
    page.goto(f"{live_server.url}/bench/pull")
    ready(page)
    choose(page, ("Modern float", "Demo sherd"))
    page.get_by_label("Mass that is used up").fill("0,5")
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#ledger-word")).to_contain_text("does not stand in its ledger yet. Not stored: this device is full.")
    assert [e["kind"] for e in stored_on_tablet(page)] == ["measure.started"]
    page.evaluate("() => sessionStorage.setItem('room', 'yes')")
    for _ in range(3):
        page.reload()
        ready(page)
        expect(page.locator("#ledger-word")).to_be_hidden()
        page.wait_for_function("() => document.querySelector('#sync-word').textContent === 'All sent'")
    started, used = sorted(stored_on_tablet(page), key=lambda e: e["kind"])
    assert used["at_ms"] == started["at_ms"]
    assert (used["kind"], used["subject"], used["body"]) == ("piece.used", piece, {"mass_g": 0.5, "test": "pull", "trial": started["subject"]})
