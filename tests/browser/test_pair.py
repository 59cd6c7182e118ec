"""Two glasses chosen and judged in real Chromium, at both sizes, and what the page says without the desk."""

import re

import pytest
from playwright.sync_api import expect

SIZES = [(390, 844), (820, 1180)]


def choose(page, side: str, typed: str, name: str) -> None:
    page.locator(f"#pick-{side}").fill(typed)
    page.locator(f"#offers-{side} button", has_text=name).first.click()


@pytest.mark.parametrize("size", SIZES)
def test_choose_two_glasses_and_read_the_answer(open_page, live_server, size):
    page = open_page(size)
    page.goto(f"{live_server.url}/glass/ver-ven-2")
    page.get_by_role("link", name="Will it hold on another glass?").click()
    expect(page.locator("#pick-a")).to_have_value("Venetian glass no. 2")
    choose(page, "b", "fusing 96", "expansion 96")
    expect(page.locator("#answer .lead")).to_contain_text(re.compile(r"the trail would be in (slight )?tension, \d+ ± \d+ MPa"))
    expect(page.locator("figure.joint svg")).to_be_visible()
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")

    page.locator("#swap").click()
    expect(page.locator("#answer .lead")).to_contain_text(re.compile(r"the trail would be in (slight )?compression"))
    page.locator("label", has_text="Core in shell").click()
    expect(page.locator("#answer .lead")).to_contain_text("a long core would be in tension")
    assert "form=core" in page.url and "a=modern-fuse96" in page.url and "b=ver-ven-2" in page.url
    address = page.url
    page.goto("about:blank")
    page.goto(address)
    expect(page.locator("#answer .lead")).to_contain_text("a long core would be in tension")
    fill = page.locator(".swatches rect").nth(1).evaluate("(r) => getComputedStyle(r).fill")
    assert fill.startswith("rgb(") and fill != "rgb(0, 0, 0)"
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def test_other_sizes_change_the_colour(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=strip")
    expect(page.locator("#answer")).to_contain_text("through 5.0 mm")
    page.locator("#sizes summary").click()
    page.locator("#path").fill("12")
    page.locator("#path").press("Enter")
    expect(page.locator("#answer")).to_contain_text("through 12.0 mm")
    assert "path=12" in page.url


def test_without_the_desk_the_page_says_so(open_page, live_server):
    page = open_page(SIZES[0], service_workers="allow")
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=trail")
    expect(page.locator("figure.joint svg")).to_be_visible()
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    live_server.stop()
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=strip")
    expect(page.locator("#needs-desk")).to_contain_text("This sum is made at the desk")
    expect(page.locator("#pick-b")).to_have_value(re.compile("expansion 96"))
    expect(page.locator("figure.joint")).to_have_count(0)


def test_typing_again_at_once_keeps_the_offers(open_page, live_server):
    """What leaving the field does a moment later once took the offers from under the finger."""
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair")
    expect(page.locator("html[data-ready=pair]")).to_be_attached()
    choose(page, "a", "venetian", "Venetian glass no. 2")
    page.locator("#pick-a").fill("float")
    page.wait_for_timeout(400)
    expect(page.locator("#offers-a button").first).to_be_visible()
    expect(page.locator("#pick-a")).to_have_value("float")


@pytest.mark.parametrize("gone", ["network", "desk"])
def test_the_last_answer_stays_under_its_own_name_while_the_desk_is_away(tablet_context, live_server, gone):
    context = tablet_context()
    page = context.new_page()
    page.goto(f"{live_server.url}/pair")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    expect(page.locator("html[data-ready=pair]")).to_be_attached()
    choose(page, "a", "venetian", "Venetian glass no. 2")
    choose(page, "b", "fusing 96", "expansion 96")
    expect(page.locator("#answer .lead")).to_contain_text("tension")
    expect(page.locator("#answer-for")).to_be_hidden()
    told = page.locator("#answer .lead").inner_text()
    context.set_offline(True) if gone == "network" else live_server.stop()

    choose(page, "b", "float (window)", "loat")
    expect(page.locator("#needs-desk")).to_contain_text("This sum is made at the desk, and the desk does not answer")
    expect(page.locator("#answer .lead")).to_have_text(told)
    expect(page.locator("#answer-for")).to_contain_text("The last answer, not for what is chosen above: Trail on bead or rod; bead or rod: Venetian glass no. 2; trail: ")
    expect(page.locator("#answer-for")).to_contain_text("96")
    expect(page.locator("#answer-for")).not_to_contain_text("loat")
    expect(page.locator("#answer")).not_to_have_attribute("aria-busy", "true")
    assert "b=modern-float" in page.url

    choose(page, "b", "fusing 96", "expansion 96")
    expect(page.locator("#answer-for")).to_contain_text("The answer from before: ")
    choose(page, "b", "float (window)", "loat")
    expect(page.locator("#answer-for")).to_contain_text("not for what is chosen above")
    context.set_offline(False) if gone == "network" else live_server.start()
    page.locator("label", has_text="Core in shell").click()
    expect(page.locator("#answer .lead")).to_contain_text("core")
    expect(page.locator("#answer-for")).to_be_hidden()
    expect(page.locator("#needs-desk")).to_be_hidden()


def test_of_quick_changes_the_last_one_is_answered(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=strip")
    expect(page.locator("figure.joint svg")).to_be_visible()
    for name in ("trail", "core", "strip", "trail", "core"):
        page.evaluate("(name) => document.querySelector(`input[name=form][value=${name}]`).click()", name)
    expect(page.locator("#answer .lead")).to_contain_text("core would be")
    expect(page.locator("#needs-desk")).to_be_hidden()
    expect(page.locator("#answer-for")).to_be_hidden()


def test_pages_that_need_the_desk_say_so_without_it(tablet_context, live_server):
    context = tablet_context()
    page = context.new_page()
    page.goto(f"{live_server.url}/glass")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    context.set_offline(True)
    for path in ("/stand-ins?g=lit-himt", "/results/glass/lit-himt"):
        page.goto(f"{live_server.url}{path}")
        expect(page.locator("main")).to_contain_text("Ranking stand-ins, judging a pair, reading a table, drawing profiles and printing labels are the desk's work")
    page.goto(f"{live_server.url}/intake")
    page.locator("#paste").fill("Sample;SiO2;Na2O\na;70;15")
    page.locator("#read").click()
    expect(page.locator("#read-error")).to_contain_text("needs the desk, and the desk does not answer")
    page.goto(f"{live_server.url}/glass/modern-boro33")
    expect(page.locator("main")).to_contain_text("Measured glasses nearest to it")


def test_a_glass_that_the_desk_does_not_know_is_named(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=own/nobody&form=strip")
    expect(page.locator("#needs-desk")).to_contain_text("does not know one of these glasses")
