"""What holds of every page on every screen."""

from playwright.sync_api import Page

# Words without a hyphen that stand on more than one line: they were broken in their middle.
BROKEN_WORDS = """(selector) => {
  const broken = [];
  for (const place of document.querySelectorAll(selector)) {
    const walker = document.createTreeWalker(place, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      for (const { 0: word, index } of walker.currentNode.data.matchAll(/[^\\s\\-–—/]{3,}/g)) {
        if (word.includes("\\u00ad")) continue;
        const range = document.createRange();
        range.setStart(walker.currentNode, index);
        range.setEnd(walker.currentNode, index + word.length);
        if (new Set([...range.getClientRects()].map((box) => Math.round(box.top))).size > 1) broken.push(word);
      }
    }
  }
  return broken;
}"""


def no_overflow(page: Page) -> bool:
    """True where nothing reaches beyond the side of the screen."""
    return page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def broken_words(page: Page, selector: str) -> list[str]:
    """Words of the chosen places that a line end splits."""
    return page.evaluate(BROKEN_WORDS, selector)


def open_all(page: Page) -> None:
    """Unfold everything that is folded away."""
    page.evaluate("() => document.querySelectorAll('main details').forEach((part) => (part.open = true))")
