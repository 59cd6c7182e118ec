"""Tables on a phone, the printed page, and what holds of every page: names, sizes of targets, order of headings."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.screen import broken_words, no_overflow, open_all
from tests.browser.test_glass import SIZES

COMPARE = "/glass/compare?g=fre-levi-ap-mean&g=modern-boro33&g=typ-eur13&g=bar-cnl-22b&g=ant-potasso-calcic-mean"


@pytest.mark.parametrize("size", SIZES)
def test_numbers_of_a_comparison_fit_and_no_name_is_broken(open_page, live_server, size):
    page = open_page(size)
    page.goto(live_server.url + COMPARE)
    expect(page.locator(".numbers tbody")).to_have_count(5)
    assert broken_words(page, ".numbers") == []
    assert page.locator(".numbers").evaluate("(t) => t.closest('.wide').scrollWidth <= t.closest('.wide').clientWidth")
    assert no_overflow(page)


def test_broken_words_are_seen(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/glass/modern-float")
    page.evaluate("() => { const s = new CSSStyleSheet(); s.replaceSync('.lead { width: 40px; }'); document.adoptedStyleSheets = [s]; }")
    assert broken_words(page, ".lead")


@pytest.mark.parametrize("path", ["/glass/accuracy", "/glass/models", "/glass/fre-levi-ap-mean", "/glass/kinds"])
def test_a_table_that_is_too_wide_says_so_and_keeps_its_caption(open_page, live_server, path):
    page = open_page(SIZES[0])
    page.goto(live_server.url + path)
    open_all(page)
    assert no_overflow(page)
    assert page.evaluate("""() => [...document.querySelectorAll(".wide")].filter((b) => b.scrollWidth > b.clientWidth + 1 && !b.querySelector(".slide-word")).length""") == 0
    for right in page.locator(".wide caption").evaluate_all("(all) => all.map((c) => c.getBoundingClientRect().right)"):
        assert right <= 390
    assert broken_words(page, ".wide th, .wide caption") == []


def test_the_table_of_accuracy_slides_with_a_hint_and_keeps_its_families(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/glass/accuracy")
    box = page.locator("details[open] .wide")
    expect(box.locator(".slide-word")).to_have_text(re.compile("Slide sideways"))
    box.evaluate("(b) => { b.scrollLeft = 200; }")
    assert box.locator("tbody th").first.evaluate("(t) => t.getBoundingClientRect().left") >= 0
    page.set_viewport_size({"width": 820, "height": 1180})
    expect(box.locator(".slide-word")).to_have_count(0)
