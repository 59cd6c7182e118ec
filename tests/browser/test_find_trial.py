"""A piece of a find goes into the flame: consent, limits and what is left are held against it, and its ledger follows. Offline throughout."""

from playwright.sync_api import expect

from tests.browser import find_page
from tests.browser.bench_page import press, stored_on_tablet
from tests.browser.screen import no_overflow


def start_with(page, url: str, piece_id: str) -> None:
    page.goto(f"{url}/bench/new?piece={piece_id}")
    expect(page.locator("#to-the-flame")).to_be_enabled()
    expect(page.locator("#piece")).to_have_value(f"MF 3, {find_page.NAME}")


def test_a_piece_is_heated_within_its_consent_and_its_ledger_follows(tablet_context, live_server):
    context = tablet_context()
    page = context.new_page()
    find_page.with_worker(page, live_server.url)
    context.set_offline(True)
    find_page.new_find(page, live_server.url)
    find_page.add_piece(page, "MF 3", "5")
    find_url = page.url
    piece_id = find_page.open_piece(page, "MF 3")

    start_with(page, live_server.url, piece_id)
    expect(page.locator("#against")).to_contain_text("The keeper has not been asked")
    page.locator("#to-the-flame").click()
    expect(page.locator("#consent-error")).to_have_text("This piece is not heated: see above.")
    assert no_overflow(page)

    page.goto(find_url)
    find_page.ready(page)
    find_page.agree(page, limit="3")
    start_with(page, live_server.url, piece_id)
    expect(page.locator("#against")).to_be_hidden()
    page.locator("#mass").fill("3,5")
    expect(page.locator("#against")).to_contain_text("3.5 g of the whole find would be used up or lost; the keeper allows 3 g")
    page.locator("#to-the-flame").click()
    expect(page.locator("#consent-error")).to_contain_text("Say above that you go on all the same")
    page.locator("#mass").fill("2")
    page.locator("#to-the-flame").click()
    press(page, 0, 2)
    page.reload()
    press(page, 2, 3)
    page.locator("#keep").click()
    expect(page.locator("#summary-lead")).to_have_text("Kept.")

    used = [e for e in stored_on_tablet(page) if e["kind"] == "piece.used"]
    trial = next(e["subject"] for e in stored_on_tablet(page) if e["kind"] == "trial.started")
    assert [(e["subject"], e["body"]) for e in used] == [(piece_id, {"mass_g": 2, "test": "flame", "trial": trial})]
    page.goto(f"{live_server.url}/finds/piece?p={piece_id}")
    find_page.ready(page)
    expect(page.locator("main")).to_contain_text("3 g")
    start_with(page, live_server.url, piece_id)
    page.locator("#mass").fill("3.2")
    expect(page.locator("#against")).to_contain_text("That is more than the 3 g that is left")

    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    table = page.request.get(f"{live_server.url}/finds/ledger.csv").text()
    assert "used" in table and trial in table


def test_a_plan_counts_all_runs_of_a_piece_against_its_ledger(browser_context, live_server):
    page = browser_context().new_page()
    find_page.new_find(page, live_server.url)
    find_page.agree(page)
    find_page.add_piece(page, "MF 4", "5")
    page.goto(f"{live_server.url}/bench/plan")
    expect(page.locator("html[data-ready=plan]")).to_be_attached()
    page.locator("#piece-part summary").click()
    page.locator("#pieces button", has_text="MF 4").click()
    page.locator("#search").fill("Demo clear rod (invented)")
    page.locator("#choices button").last.click()
    expect(page.locator("#against")).to_contain_text("That is more than the 5 g that is left")
    page.locator("#make").click()
    expect(page.locator("#against-error")).to_contain_text("Take these pieces out, or plan less")
    page.locator("[data-step='-1']").click()
    expect(page.locator("#against")).to_be_hidden()
    page.locator("#make").click()
    expect(page.locator("#lead")).to_contain_text("Run 1 of 4")
