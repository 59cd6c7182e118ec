"""Stand-ins in real Chromium: from the glass to its ranking, other margins, and the desk gone."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.test_glass import SIZES, no_overflow, ready


@pytest.mark.parametrize("size", SIZES)
def test_find_a_stand_in_change_margins_and_lose_the_desk(open_page, live_server, size):
    page = open_page(size, service_workers="allow")
    page.goto(f"{live_server.url}/glass/lit-rom-mn")
    ready(page)
    page.get_by_role("link", name="Find a stand-in").click()
    expect(page.locator("h1")).to_contain_text("Stand-ins for Roman manganese")
    expect(page.locator(".lead")).to_contain_text("Nearest by best guess")
    first = page.locator(".matches > li").first
    expect(first.locator("svg.miss:visible")).to_have_count(5)
    assert first.locator("summary svg.miss").first.bounding_box()["width"] > 90
    first.locator("summary").click()
    expect(first.locator(".tests").first).to_be_visible()
    assert no_overflow(page)

    page.locator("#margins summary").click()
    page.locator("#m-softening").fill("300")
    page.locator("#m-softening").press("Tab")
    expect(page.locator(".matches > li").first.locator("summary .verdict.alike")).to_have_count(1)
    expect(page).to_have_url(re.compile("softening=300"))
    page.locator("#m-expansion").fill("much")
    page.locator("#m-expansion").press("Tab")
    expect(page.locator("#margin-error")).to_contain_text("Expansion: a margin is a number from 0.5 to 50")
    page.locator("#m-expansion").fill("6")
    page.locator("#m-expansion").press("Tab")
    expect(page.locator("#margin-error")).to_be_hidden()
    assert no_overflow(page)

    page.goto(f"{live_server.url}/stand-ins?g=lit-rom-mn")
    live_server.kill()
    page.locator("#margins summary").click()
    page.locator("#m-softening").fill("30")
    page.locator("#m-softening").press("Tab")
    expect(page.locator("#margin-error")).to_contain_text("needs the desk")
    page.reload()
    expect(page.locator(".matches > li").first).to_be_visible()
    expect(page.locator("[data-made-ms]")).to_contain_text("This copy is from", timeout=20_000)
    page.goto(f"{live_server.url}/stand-ins?g=lit-himt")
    expect(page.locator("main")).to_contain_text("The desk cannot be reached")
