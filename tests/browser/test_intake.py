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
    expect(page.locator("#understood-head")).to_have_text("2 of 2 glasses ticked, 1 row cannot be read")
    expect(row(page, "K-2")).to_contain_text("date: the spreadsheet has turned a figure into one")
    expect(row(page, "K-2").locator("input")).to_have_count(0)
    unclear = page.locator("[data-column]", has_text="Gehalt X")
    expect(unclear).to_contain_text("please check")
    unclear.locator("[data-is]").select_option("oxide:Al2O3")
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    row(page, "K-1").get_by_text("Figures").click()
    figures = row(page, "K-1").locator("tr", has_text="Al₂O₃").locator("td")
    expect(figures.nth(0)).to_have_text("2,4")
    expect(figures.nth(1)).to_have_text("2.4 wt%")
    expect(row(page, "K-1").locator("tr", has_text="CaO")).to_contain_text("below 0.5")
    expect(page.locator("#understood-head")).to_have_text("2 of 2 glasses ticked, 1 row cannot be read")
    row(page, "K-3").locator("input").uncheck()
    expect(page.locator("#keep")).to_have_text("Save 1 glass")
    expect(page.locator("#understood-head")).to_contain_text("1 of 2 glasses ticked")
    assert no_overflow(page)
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_have_text("1 glass is kept on this device and goes to the desk by itself.All glasses")
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


@pytest.mark.parametrize("size", SIZES)
def test_a_row_without_a_name_is_kept_under_the_name_it_is_given(open_page, live_server, size):
    page = open_page(size)
    open_intake(page, live_server.url)
    read(page, "Sample;SiO2;Na2O;CaO;Al2O3\nN-1;69;17;8;2.4\n;70;16;8;2.5\n;20;7;0;0\nN-2;68;18;8;2.5")
    head = page.locator("#understood-head")
    expect(head).to_have_text("2 of 4 glasses ticked")
    second, third = page.locator("[data-key='3-False']"), page.locator("[data-key='4-False']")
    expect(second).to_contain_text("It has no name. Type one to keep it.")
    second.locator("[type=checkbox]").click()
    expect(second.locator("[data-name]")).to_be_focused()
    expect(second.locator("[type=checkbox]")).not_to_be_checked()
    page.keyboard.type("Shard from the sieve")
    expect(second.locator("[type=checkbox]")).to_be_checked()
    expect(head).to_have_text("3 of 4 glasses ticked")
    third.locator("[data-name]").fill("Too little")
    expect(third.locator("[type=checkbox]")).not_to_be_checked()
    page.locator("#source").fill("Report 9 (invented)")
    page.locator("#source").blur()
    expect(second.locator("[data-name]")).to_have_value("Shard from the sieve")
    expect(second.locator("[type=checkbox]")).to_be_checked()
    page.get_by_role("button", name="Tick none").click()
    expect(head).to_have_text("0 of 4 glasses ticked")
    second.locator("[type=checkbox]").check()
    third.locator("[type=checkbox]").check()
    expect(page.locator("#keep")).to_have_text("Save 2 glasses")
    assert no_overflow(page)
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_contain_text("2 glasses are kept on this device and go to the desk by themselves.")
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    page.goto(f"{live_server.url}/glass")
    expect(page.get_by_role("link", name=re.compile("Shard from the sieve")).first).to_be_visible()


def test_a_press_is_not_lost_to_a_preview_that_arrives_under_the_finger(open_page, live_server):
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    read(page, "Sample;SiO2;Na2O;CaO;Al2O3\nN-1;69;17;8;2.4\nN-2;68;18;8;2.5")
    head = page.locator("#understood-head")
    expect(head).to_have_text("2 of 2 glasses ticked")
    held = []
    page.route("**/intake/preview", lambda route: held.append(route))
    page.locator("#source").fill("Report 9 (invented)")
    with page.expect_request("**/intake/preview"):
        page.locator("#source").blur()
    none = page.get_by_role("button", name="Tick none")
    none.hover()
    page.mouse.down()
    with page.expect_response("**/intake/preview") as answered:
        held[0].continue_()
    answered.value.finished()
    page.mouse.up()
    expect(head).to_have_text("0 of 2 glasses ticked")
    expect(page.locator("#keep")).to_have_text("Tick what to save")


def test_blank_names_mean_the_name_above_only_when_the_person_says_so(open_page, live_server):
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    read(page, t.SPOTS)
    expect(page.locator("#understood-head")).to_have_text("2 of 7 glasses ticked")
    expect(page.locator("label[for=blank]")).to_have_text("3 rows below a named one have no name")
    page.locator("#blank").select_option("above")
    expect(row(page, "VR-03").filter(has_text="mean, n = 3").locator("input")).to_be_checked()
    expect(page.locator("#understood-head")).to_have_text("2 of 7 glasses ticked")
    open_intake(page, live_server.url)
    read(page, t.SPOTS)
    expect(page.locator("#blank")).to_have_value("above")
    expect(row(page, "VR-03").filter(has_text="mean, n = 3").locator("input")).to_be_checked()


def test_a_figure_is_shown_in_the_unit_it_was_written_in(open_page, live_server):
    page = open_page(SIZES[1])
    open_intake(page, live_server.url)
    read(page, "Sample;Si (wt%);sd;Na (wt%);Ca (wt%);Co (ppm)\nE-1;32,1;0,2;12,5;5,7;1240 ± 31")
    row(page, "E-1").get_by_text("Figures").click()
    figures = row(page, "E-1").locator("tbody tr")
    expect(figures.nth(0).locator("td").nth(1)).to_have_text("32.1 wt%± 0.2 wt%")
    expect(figures.nth(3).locator("td").nth(1)).to_have_text("1240 ppm± 31 ppm")


def test_the_same_headings_are_read_the_same_way_again(open_page, live_server):
    page = open_page(SIZES[0])
    open_intake(page, live_server.url)
    read(page, TABLE)
    expect(page.locator("#remembered")).to_be_hidden()
    page.locator("[data-column]", has_text="Gehalt X").locator("[data-is]").select_option("oxide:Al2O3")
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    open_intake(page, live_server.url)
    read(page, TABLE.replace("69,5", "68,8"))
    expect(page.locator("#remembered")).to_be_visible()
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("As you said")
    page.locator("#read-afresh").click()
    expect(page.locator("[data-column]", has_text="Gehalt X")).to_contain_text("please check")
    expect(page.locator("#remembered")).to_be_hidden()
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
    page = open_page(SIZES[0], service_workers="allow")
    page.goto(f"{live_server.url}/glass")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
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
    expect(page.locator("#understood-head")).to_contain_text("of 2 glasses ticked")


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
