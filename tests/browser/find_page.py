"""What a person does with a find and its pieces, for the browser tests. All names are invented."""

import base64

from playwright.sync_api import Page, expect

NAME = "Demo Nowhere Quay, find 17"


def with_worker(page: Page, url: str) -> None:
    """Open the finds and wait until the whole shell is kept on the tablet."""
    page.goto(f"{url}/finds")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")


def ready(page: Page) -> None:
    """The page has drawn what it knows."""
    expect(page.locator("html[data-ready=finds]")).to_be_attached()


def new_find(page: Page, url: str, number: str = "17", due: str = "") -> str:
    """From the list to a find that is kept; its id."""
    page.goto(f"{url}/finds")
    ready(page)
    page.get_by_role("button", name="New find").tap()
    page.get_by_label("Find number").fill(number)
    page.get_by_label("Site").fill("Demo Nowhere Quay")
    page.get_by_label("Keeper").fill("Demo keeper")
    page.get_by_label("Due back").fill(due)
    page.get_by_role("button", name="Keep the find").tap()
    page.wait_for_url("**/finds/find?f=*")
    ready(page)
    return page.url.split("f=")[1]


def agree(page: Page, tests: tuple[str, ...] = ("Flame",), limit: str = "") -> None:
    """On a find's page: the keeper is asked, or has been, and agrees."""
    page.locator("#consent-act").tap()
    page.get_by_role("radio", name="Agreed").check()
    page.get_by_label("Who agreed").fill("Demo keeper")
    page.get_by_label("On which day").fill("2026-02-01")
    for test in tests:
        page.get_by_label(f"{test} test").check()
    page.get_by_label("Most of the whole find").fill(limit)
    page.get_by_role("button", name="Keep this answer").tap()
    expect(page.locator("#consent-said")).to_contain_text("Demo keeper agreed on 2026-02-01")


def add_piece(page: Page, label: str, mass: str = "") -> None:
    """On a find's page."""
    page.get_by_role("button", name="Add a piece").tap()
    page.get_by_label("What is written on it").fill(label)
    page.get_by_label("Mass, if it was weighed").fill(mass)
    page.get_by_role("button", name="Keep the piece").tap()
    expect(page.locator("#pieces .name", has_text=label)).to_be_visible()


def open_piece(page: Page, label: str) -> str:
    """From a find's page to one of its pieces; its id."""
    page.locator("#pieces a", has_text=label).tap()
    page.wait_for_url("**/finds/piece?p=*")
    ready(page)
    return page.url.split("p=")[1]


def act(page: Page, what: str, mass: str, **more: str) -> None:
    """On a piece's page: choose an act, fill in its fields, write it down. `more` is label -> text."""
    page.locator("#act-form").get_by_label(what, exact=True).check()
    page.locator("#a-mass").fill(mass)
    for label, text in more.items():
        page.locator("#act-form").get_by_label(label.replace("_", " ")).fill(text)
    page.get_by_role("button", name="Write it down").tap()


def jpeg_made_in(page: Page, width: int, height: int, is_noisy: bool = False) -> bytes:
    """A JPEG drawn by the browser; noise is what packs worst."""
    drawn = page.evaluate(
        """([width, height, isNoisy]) => {
      const canvas = Object.assign(document.createElement("canvas"), { width, height });
      const pen = canvas.getContext("2d");
      const pixels = pen.createImageData(width, height);
      for (let i = 0; i < pixels.data.length; i += 4) {
        const grey = isNoisy ? Math.random() * 255 : (i / 4 % width < width / 2 ? 230 : 20);
        pixels.data.set([grey, isNoisy ? Math.random() * 255 : grey, grey, 255], i);
      }
      pen.putImageData(pixels, 0, 0);
      return canvas.toDataURL("image/jpeg", 0.95).split(",")[1];
    }""",
        [width, height, is_noisy],
    )
    return base64.b64decode(drawn)
