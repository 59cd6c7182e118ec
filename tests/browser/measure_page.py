"""What a person does with a measured test at the bench, for the browser tests."""

import sqlite3
import time
from weakref import WeakKeyDictionary
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.browser.screen import audit, no_overflow

LEAST_PX = 48
ONWARD_GAP_MS = 460  # the second tap of a double one is not taken
last_press: WeakKeyDictionary = WeakKeyDictionary()
SMALL = """(least) => [...document.querySelectorAll("main :is(button, .button, input:not([type=hidden]), select, summary, label:has([type=radio], [type=checkbox]), .trial-list a)")]
  .filter((one) => one.checkVisibility() && !["radio", "checkbox"].includes(one.type))
  .map((one) => [one.getBoundingClientRect(), one]).filter(([box]) => box.height < least - 0.5 || box.width < least - 0.5)
  .map(([box, one]) => `${Math.round(box.width)} × ${Math.round(box.height)}: ${one.id || one.textContent.trim().slice(0, 30)}`)"""

# What is read in each test, card by card: a number as typed, a word as its button says, "" for what is passed over,
# ("lay", square, letter) on the board, "go" on a card that only says what to do, "reload" in the middle of a card.
CARDS = {
    "pull": ["6,05", "6.00", "6", "", "reload", "6.1", "", "go", "3", "", "", "3.95", "", "", "3,05", "", "A bubble"],
    "thread": ["go", "300", "0.8", "", "reload", "Glass A inside", "6.5", "6"],
    "fuse": [("lay", "a1", "A"), ("lay", "c1", "B"), "go", "0.5", "5", "5", "0,52", "reload", "5.1", "5", "go", "4", "5.6", "Rounded", "Bright", "4.6", "5.2", "Edges soft", ""],
    "strip": ["go", "90", "1", "reload", "White", "No crack", "The piece"],
}
READ = {
    "pull": {"1/before_1_mm": 6.05, "1/before_2_mm": 6.0, "2/before_1_mm": 6.0, "3/before_1_mm": 6.1, "1/after_1_mm": 3.0, "2/after_1_mm": 3.95, "3/after_1_mm": 3.05, "3/fault": "bubble"},
    "thread": {"1/length_mm": 300.0, "1/thickness_mm": 0.8, "1/inside": "A", "1/bow_mm": 6.5, "1/bow_turned_mm": 6.0},
    "fuse": {
        "a1/glass": "A", "c1/glass": "B", "a1/mass_g": 0.5, "a1/height_before_mm": 5.0, "a1/width_before_mm": 5.0, "c1/mass_g": 0.52, "c1/height_before_mm": 5.1, "c1/width_before_mm": 5.0,
        "a1/height_after_mm": 4.0, "a1/width_after_mm": 5.6, "a1/rounding": "rounded", "a1/skin": "bright", "c1/height_after_mm": 4.6, "c1/width_after_mm": 5.2, "c1/rounding": "edges soft",
    },
    "strip": {"1/strip_expansion_1e7_per_k": 90.0, "1/strip_u_1e7_per_k": 1.0, "1/halo": "white", "1/cracked": "no", "1/pulls": "piece"},
}  # fmt: skip
GLASSES = {"pull": ("Modern float", "Demo unknown"), "thread": ("Modern float", "Demo unknown"), "fuse": ("Modern float", "Demo unknown"), "strip": ("Demo unknown",)}


def ready(page: Page) -> None:
    expect(page.locator("html[data-ready=measure]")).to_be_attached()


def choose(page: Page, names: tuple[str, ...]) -> None:
    """Take each glass: the first that the search offers."""
    for place, name in enumerate(names):
        if page.locator("#add-glass").is_visible() and place:
            page.locator("#add-glass").click()
        page.locator("#search").fill(name)
        page.locator("#choices button").first.click()
    expect(page.locator("#glass-rows > li")).to_have_count(len(names))


def begin(page: Page, url: str, test: str, names: tuple[str, ...] | None = None) -> str:
    """From the choice of tests to the first card; the test's number."""
    page.goto(f"{url}/bench/measure")
    page.locator(f'a[href="/bench/{test}"]').click()
    ready(page)
    choose(page, names or GLASSES[test])
    if test == "strip":
        page.locator("[name=s-plate][value=yes]").check()
    page.get_by_role("button", name="Start measuring").click()
    expect(page.locator("#part-run")).to_be_visible()
    ready(page)
    return page.url.split("m=")[1]


def shown(page: Page) -> str:
    """Which card is shown: its title and its question."""
    return page.locator("#task").evaluate("(task) => [...task.querySelectorAll('h2, #task-label, legend')].filter((one) => one.checkVisibility()).map((one) => one.textContent).join(': ')")


def press_next(page: Page) -> None:
    """Press Next (or Keep), no sooner after the press before than the page takes it."""
    page.wait_for_timeout(max(0.0, ONWARD_GAP_MS - 1000 * (time.monotonic() - last_press.get(page, 0.0))))
    page.locator("#next").click()
    last_press[page] = time.monotonic()


def stop_test(page: Page, reason: str) -> None:
    """Stop the test that is open."""
    page.locator("#stop-part summary").click()
    page.locator("#reason").fill(reason)
    page.locator("#stop").click()


def onward(page: Page) -> None:
    """To the next card."""
    was = shown(page)
    press_next(page)
    expect(page.locator("#task")).not_to_be_empty()
    page.wait_for_function("(was) => [...document.querySelectorAll('#task h2, #task-label, #task legend')].filter((one) => one.checkVisibility()).map((one) => one.textContent).join(': ') !== was", arg=was)


def read_card(page: Page, card: str | tuple) -> None:
    """Do what one card asks."""
    if card == "reload":
        was = shown(page)
        page.reload()
        ready(page)
        assert shown(page) == was
    elif isinstance(card, tuple):
        page.locator(f"[data-square={card[1]}]").click()
        page.locator("#word-choices button").filter(has_text=card[2]).first.click()
        expect(page.locator("#task-title")).to_have_text("Lay out the chips")
    else:
        if card and page.locator("#task-value").is_visible():
            page.locator("#task-value").fill(card)
        elif card and card != "go":
            page.locator("#word-choices").get_by_role("button", name=card, exact=True).click()
        onward(page)


def bench_entries(database: Path) -> list[tuple[str, str]]:
    """(id, kind) of the desk's entries in the tablet's order, read past our own code."""
    with sqlite3.connect(database) as connection:
        return connection.execute("SELECT id, kind FROM bench_entry ORDER BY n").fetchall()


def readings(entries: list[dict]) -> dict[str, float | str]:
    """The latest of each reading, by the tablet's own count; those taken back left out."""
    found = {f"{e['body']['place']}/{e['body']['quantity']}": e["body"]["value"] if e["body"]["word"] is None else e["body"]["word"] for e in entries if e["kind"] == "measure.read"}
    return {place: said for place, said in found.items() if said != ""}


def stumbles(page) -> list[str]:
    """What is wrong with this screen for a hand in a glove, or for one who cannot see it."""
    return [*audit(page), *page.evaluate(SMALL, LEAST_PX), *([] if no_overflow(page) else ["reaches beyond the side"])]
