"""Tables on a phone, the printed page, and what holds of every page: names, sizes of targets, order of headings."""

import re

import pytest
from playwright.sync_api import expect

from tests.browser.screen import audit, broken_words, no_overflow, open_all, settled
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


PRINTED = {
    "/glass/fre-levi-ap-mean": ["Freestone, Gorin-Rosen", "Lakatos T., Johansson", "version 1"],
    "/glass/ref-arch-c": ["Brill 1999", "Giordano 2008 stood aside"],
    COMPARE: ["Freestone, Gorin-Rosen"],
    "/pair?a=ver-ven-2&b=modern-fuse96&form=trail": ["ASTM F144", "Verita, Renier"],
    "/glass/accuracy": ["Ferraina, Baldoni & Le Losq"],
    "/stand-ins?g=lit-himt": ["Nearest by best guess", "Foy"],
    "/results": ["Trials timed at the bench"],
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("path", PRINTED)
def test_the_printed_page(open_page, live_server, path, scheme):
    """Black on white in either theme, without what only a screen can use, with sources, version, day and address at the foot."""
    page = open_page(SIZES[1], color_scheme=scheme)
    page.goto(live_server.url + path)
    settled(page)
    for words in PRINTED[path]:  # what the desk is asked for is there, folded away or not, before anything is counted
        expect(page.locator("main")).to_contain_text(words)
    folded = page.locator("main details:not([open])").count()
    page.emulate_media(media="print", color_scheme=scheme)
    page.evaluate("() => window.dispatchEvent(new Event('beforeprint'))")
    assert page.evaluate("() => [getComputedStyle(document.documentElement).backgroundColor, getComputedStyle(document.body).color]") == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    assert page.locator(":is(nav, button, .button, input, select):visible").count() == 0
    for words in PRINTED[path]:
        expect(page.locator("main")).to_contain_text(words, use_inner_text=True)
    expect(page.locator(".print-foot")).to_be_visible()
    expect(page.locator(".print-foot")).to_contain_text(re.compile(r"Isokom \d+\.\d+\.\d+, pages and model data [0-9a-f]{12}"))
    expect(page.locator("#printed")).to_contain_text(re.compile(r"Printed .*20\d\d.* from http://"))
    assert no_overflow(page)
    page.emulate_media(media="screen")
    page.evaluate("() => window.dispatchEvent(new Event('afterprint'))")
    assert page.locator("main details:not([open])").count() == folded
    expect(page.locator(".print-foot")).to_be_hidden()


def test_a_printed_glass_fits_a_few_sheets(open_page, live_server):
    page = open_page(SIZES[1])
    for path, most in (("/glass/fre-levi-ap-mean", 5), (COMPARE, 3), ("/stand-ins?g=lit-himt", 8)):
        page.goto(live_server.url + path)
        settled(page)
        sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4", prefer_css_page_size=True)))
        assert 1 <= sheets <= most, (path, sheets)


PAGES = [
    "/glass", "/glass/new", "/glass/compare", COMPARE, "/glass/models", "/glass/accuracy", "/glass/kinds", "/glass/fre-levi-ap-mean", "/glass/ref-arch-c", "/glass/jac-lei-mean",
    "/pair", "/pair?a=ver-ven-2&b=modern-fuse96&form=core", "/pair?a=ver-ven-2&b=lit-hipb", "/stand-ins", "/stand-ins?g=lit-himt", "/stand-ins?g=lit-hipb",
    "/intake", "/finds", "/finds/find", "/finds/piece", "/bench", "/bench/new", "/bench/run", "/results", "/sync", "/offline", "/nowhere",
]


@pytest.mark.parametrize("size", SIZES)
def test_every_page_names_its_controls_and_lets_a_finger_hit_them(open_page, live_server, size):
    """Labels, headings in order, targets of 44 css px (WCAG 2.2, 2.5.5 enhanced), scopes of heads: nothing missing on any page."""
    page, found = open_page(size), {}
    for path in PAGES:
        page.goto(live_server.url + path)
        settled(page)
        open_all(page)
        found[path] = [*audit(page), *([] if no_overflow(page) else ["reaches beyond the side"])]
    assert {path: said for path, said in found.items() if said} == {}


def test_what_the_audit_looks_for_is_seen(open_page, live_server):
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/glass")
    page.evaluate("""() => {
      const main = document.querySelector("main");
      for (const html of ["<input>", "<button></button>", "<h4>Deep</h4>", "<p id=q></p>", "<table><thead><tr><th>A</th></tr></thead></table>", "<p><a href='/glass'>alone</a></p>"]) main.insertAdjacentHTML("beforeend", html);
    }""")
    said = " ".join(audit(page))
    for words in ("no label", "no name", "then <h4>", "id twice: q", "th without scope", "high: <a> alone"):
        assert words in said


@pytest.mark.parametrize("path", ["/glass", "/glass/new", "/glass/fre-levi-ap-mean", COMPARE, "/pair?a=ver-ven-2&b=modern-fuse96&form=core", "/stand-ins?g=lit-himt", "/intake", "/bench/new"])
def test_the_focus_is_visible_wherever_the_tab_key_leads(open_page, live_server, path):
    page = open_page(SIZES[0])
    page.goto(live_server.url + path)
    settled(page)
    seen = set()
    for _ in range(25):
        page.keyboard.press("Tab")
        told = page.evaluate("""() => {
          const node = document.activeElement;
          const places = [node, ...(node.labels ?? [])];
          const drawn = places.some((one) => { const s = getComputedStyle(one); return s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 && one.getClientRects().length > 0; });
          return [node === document.body || drawn, node.outerHTML.slice(0, 80)];
        }""")
        assert told[0], told[1]
        seen.add(told[1])
    assert len(seen) >= 8


def test_what_is_chosen_is_marked_by_more_than_its_colour(open_page, live_server):
    """Torch spectacles take the yellow out: a tick stands on the chosen joint, edges bound the working range, curves have dashes and letters."""
    page = open_page(SIZES[0])
    page.goto(f"{live_server.url}/pair?a=ver-ven-2&b=modern-fuse96&form=core")
    expect(page.locator("html[data-ready=pair]")).to_be_attached()
    marks = page.locator(".joints label").evaluate_all("(all) => all.map((one) => getComputedStyle(one, '::before').content)")
    assert marks == ["none", '"✓"', "none"]
    page.goto(f"{live_server.url}/glass/fre-levi-ap-mean")
    expect(page.locator("viscosity-chart .range-edge")).to_have_count(2)
