"""What holds of every page on every screen."""

from playwright.sync_api import Page


def no_overflow(page: Page) -> bool:
    """True where nothing reaches beyond the side of the screen."""
    return page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")
