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
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=trail")
    expect(page.locator("figure.joint svg")).to_be_visible()
    page.evaluate("() => navigator.serviceWorker.ready.then(() => true)")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    live_server.stop()
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=strip")
    expect(page.locator("#needs-desk")).to_contain_text("This sum is made at the desk")
    expect(page.locator("#pick-b")).to_have_value(re.compile("expansion 96"))
    expect(page.locator("figure.joint")).to_have_count(0)


def test_a_glass_that_the_desk_does_not_know_is_named(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=own/nobody&form=strip")
    expect(page.locator("#needs-desk")).to_contain_text("does not know one of these glasses")
