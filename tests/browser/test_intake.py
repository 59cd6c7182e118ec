"""Bring in a table in real Chromium: paste, put a column right, save, see it at the desk; the same headings again; the desk away."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.unit.intake import tables as t
from tests.browser.screen import no_overflow

SIZES = [(390, 844), (820, 1180)]
TABLE = "Sample;Fundort;SiO2;Na2O;Gehalt X;CaO;Co;Summe\nK-1;Ödenau;69,5;16,2;2,4;<0,5;1.250;88,3\nK-2;Ödenau;69,0;12. Mai;2,3;8,1;980;96,0\nK-3;Ödenau;70,2;15,9;2,2;7,9;tr.;96,2\n"


def open_intake(page: Page, url: str) -> None:
    page.goto(f"{url}/intake")
    expect(page.locator("html[data-ready=intake]")).to_be_attached()


def read(page: Page, text: str) -> None:
    page.locator("#paste").fill(text)
    page.get_by_role("button", name="Read it").click()
    expect(page.locator("#understood-head")).to_be_visible()


def row(page: Page, name: str):
    return page.locator("[data-key]", has=page.locator(".find-name", has_text=name))


@pytest.mark.parametrize("size", SIZES)
def test_paste_correct_save_and_see_it_at_the_desk(open_page, live_server, size):
    page = open_page(size)
    page.goto(f"{live_server.url}/glass")
    page.get_by_role("link", name="Bring in a table").click()
    expect(page.locator("html[data-ready=intake]")).to_be_attached()
    page.locator("#method").select_option("xrf")
    read(page, TABLE)
    expect(page.locator("#understood-head")).to_have_text("2 rows can be kept, 1 cannot be read")
    expect(row(page, "K-2")).to_contain_text("date: the spreadsheet has turned a figure into one")
    expect(row(page, "K-2").locator("input")).to_have_count(0)
    unclear = page.locator("[data-column]", has_text="Gehalt X")
    expect(unclear).to_contain_text("please check")
    unclear.locator("[data-is]").select_option("oxide:Al2O3")
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    row(page, "K-1").get_by_text("Figures").click()
    figures = row(page, "K-1").locator("tr", has_text="Al₂O₃").locator("td")
    expect(figures.nth(0)).to_have_text("2,4")
    expect(figures.nth(1)).to_have_text("2.4wt%")
    expect(row(page, "K-1").locator("tr", has_text="CaO")).to_contain_text("below 0.5")
    row(page, "K-3").locator("input").uncheck()
    expect(page.locator("#keep")).to_have_text("Save 1 glass")
    assert no_overflow(page)
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_contain_text("1 glass is kept on this device")
    expect(page.locator("#keep")).to_have_text("Tick what to save")
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    page.goto(f"{live_server.url}/glass")
    page.get_by_role("link", name=re.compile("K-1")).first.click()
    page.get_by_text("Composition", exact=True).click()
    expect(page.locator("tr", has_text="Al₂O₃").first).to_contain_text("Gehalt X: 2,4")
    expect(page.locator("tr", has=page.locator("th", has_text=re.compile("^Co$")))).to_contain_text("Co: 1.250")
    page.get_by_text("Sources", exact=True).click()
    expect(page.locator("dl.facts")).to_contain_text("XRF in the laboratory")
    assert no_overflow(page)


def test_the_same_headings_are_offered_the_same_reading(open_page, live_server):
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    read(page, TABLE)
    expect(page.locator("#remembered")).to_be_hidden()
    page.locator("[data-column]", has_text="Gehalt X").locator("[data-is]").select_option("oxide:Al2O3")
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    open_intake(page, live_server.url)
    read(page, TABLE.replace("69,5", "68,8"))
    expect(page.locator("#remembered")).to_be_visible()
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("please check")
    page.locator("#use-remembered").click()
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    read(page, "Sample;SiO2;Na2O\nL;70;17")
    expect(page.locator("#remembered")).to_be_hidden()


def test_a_workbook_is_chosen_and_a_sheet(open_page, live_server):
    data = t.workbook({"Finds": [["Sample", "SiO2", "Na2O", "CaO"], ["W-1", 70.5, "16,5", 8.1]], "More": [["Sample", "SiO2", "Na2O"], ["W-9", 69, 17]]})
    page = open_page(SIZES[1])
    open_intake(page, live_server.url)
    page.locator("#file").set_input_files({"name": "finds.xlsx", "mimeType": "application/octet-stream", "buffer": data})
    expect(row(page, "W-1")).to_be_visible()
    page.locator("#sheet").select_option("More")
    expect(row(page, "W-9")).to_be_visible()
    page.locator("#file").set_input_files({"name": "long.csv", "mimeType": "text/csv", "buffer": b"SiO2;" * 200_000})
    expect(page.locator("#read-error")).to_contain_text("1.0 million bytes. Up to 700 thousand")
    expect(row(page, "W-9")).to_be_visible()


def test_without_the_desk_the_pasted_text_stays(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/glass")
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    live_server.kill()
    open_intake(page, live_server.url)
    page.locator("#paste").fill(TABLE)
    page.locator("#read").click()
    expect(page.locator("#read-error")).to_contain_text("Reading a table needs the desk")
    expect(page.locator("#read-error")).to_contain_text("kept on this device")
    page.reload()
    expect(page.locator("html[data-ready=intake]")).to_be_attached()
    assert page.locator("#paste").input_value() == TABLE
    live_server.start()
    page.locator("#read").click()
    expect(page.locator("#understood-head")).to_contain_text("2 rows can be kept")


def test_a_correction_that_the_desk_has_not_seen_cannot_be_saved_past(open_page, live_server):
    """What is saved is always what is shown and was asked last."""
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    read(page, TABLE)
    expect(page.locator("#keep")).to_be_enabled()
    live_server.kill()
    page.locator("[data-column]", has_text="Gehalt X").locator("[data-is]").select_option("oxide:Al2O3")
    expect(page.locator("#read-error")).to_contain_text("the desk does not answer")
    row(page, "K-3").locator("input").uncheck()
    expect(page.locator("#keep")).to_be_disabled()


def test_a_huge_paste_is_stopped_with_a_sentence(open_page, live_server):
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    page.locator("#paste").fill("keep me")
    page.locator("#paste").evaluate("""(box) => {
      const data = new DataTransfer();
      data.setData("text", "SiO2 70 ".repeat(2500000));
      box.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, cancelable: true, bubbles: true }));
    }""")
    expect(page.locator("#read-error")).to_contain_text("20.0 million characters")
    assert page.locator("#paste").input_value() == "keep me"
