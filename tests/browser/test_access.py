"""What people with other eyes and hands meet: axe-core (Deque, MPL-2.0) finds nothing to mend, in both themes; every target is large enough for a glove."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from tests.browser import find_page, measure_page
from tests.browser.screen import no_overflow, open_all, settled, too_small

BENCH = ["/bench", "/bench/new", "/bench/plan", "/bench/session", "/bench/run", "/cautions", "/results", "/results/measures", "/finds", "/bench/measure", "/bench/pull", "/bench/thread", "/bench/fuse", "/bench/strip"]
SIZES = [(390, 844), (820, 1180)]



def violations(page) -> list[str]:
    """Rule, place and advice of everything that axe finds."""
    found = Axe().run(page).response["violations"]
    return [f"{one['id']}: {node['target']} {node.get('failureSummary', '')[:200]}" for one in found for node in one["nodes"]]


@pytest.mark.parametrize(("path", "scheme"), [(path, ("light", "dark")[place % 2]) for place, path in enumerate(BENCH)])
def test_axe_finds_nothing_and_targets_are_large(open_page, live_server, path, scheme):
    page = open_page(SIZES[scheme == "dark"], color_scheme=scheme)
    page.goto(f"{live_server.url}{path}")
    settled(page)
    open_all(page)
    page.wait_for_timeout(150)
    assert violations(page) == []
    assert too_small(page) == []
    assert no_overflow(page)


def test_a_caution_is_put_away_for_the_day_logged_and_shown_again_on_request(browser_context, live_server):
    context = browser_context()
    page = context.new_page()
    page.goto(f"{live_server.url}/bench/new")
    caution = page.locator("[data-caution=flame]")
    expect(caution.get_by_text("Spectacles made for torch work")).to_be_visible()
    caution.get_by_role("button", name="I have read this").click()
    expect(caution.get_by_text("Spectacles made for torch work")).to_be_hidden()
    page.goto(f"{live_server.url}/bench/plan")
    page.goto(f"{live_server.url}/bench/new")
    expect(caution.get_by_role("button", name="Show it again")).to_be_visible()
    expect(caution.get_by_text("Spectacles made for torch work")).to_be_hidden()
    caution.get_by_role("button", name="Show it again").click()
    expect(caution.get_by_text("Spectacles made for torch work")).to_be_visible()
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=20_000)
    page.goto(f"{live_server.url}/cautions")
    expect(page.locator("tbody tr")).to_have_count(1)
    expect(page.locator("tbody tr")).to_contain_text("At the flame")
    page.evaluate("() => localStorage.setItem('isokom-caution:flame', JSON.stringify({ wording: 'other', at_ms: Date.now() }))")
    page.goto(f"{live_server.url}/bench/new")
    expect(caution.get_by_text("Spectacles made for torch work")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_what_is_being_worked_at_is_as_open(open_page, live_server, scheme):
    """A find with its piece, and a fuse test with its board, while a person is at them."""
    page = open_page(SIZES[scheme == "dark"], color_scheme=scheme)
    find_page.new_find(page, live_server.url)
    find_page.agree(page)
    find_page.add_piece(page, "MF 3", "5")
    open_all(page)
    assert (violations(page), too_small(page)) == ([], [])
    find_page.open_piece(page, "MF 3")
    open_all(page)
    assert (violations(page), too_small(page)) == ([], [])
    for test in ("fuse", "pull", "thread", "strip"):
        measure_page.begin(page, live_server.url, test)
        for card in measure_page.CARDS[test][:3]:
            measure_page.read_card(page, card) if card != "reload" else None
        open_all(page)
        assert (violations(page), too_small(page)) == ([], []), test
        assert no_overflow(page)
