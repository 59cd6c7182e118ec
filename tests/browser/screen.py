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

# Every target of the page, with its smaller side in mm (1 CSS px is 1/96 inch; CSS Values and Units 3, 5.2). Links within a sentence are text (WCAG 2.2, 2.5.8).
TARGETS = """() => [...document.querySelectorAll("main a[href], main button, main input:not([type=hidden]), main select, main textarea, main summary")]
  .filter((n) => n.checkVisibility({ visibilityProperty: true }) && n.getClientRects().length && !(n.localName === "a" && getComputedStyle(n).display === "inline"))
  .map((n) => { const box = (n.matches("[type=radio], [type=checkbox], [type=file].visually-hidden") ? n.labels?.[0] ?? n : n).getBoundingClientRect(); return [`${n.localName}#${n.id} ${n.textContent.trim().slice(0, 30)}`, Math.min(box.width, box.height) * 25.4 / 96]; })"""


def too_small(page: Page, least_mm: float = 12) -> list[str]:
    """Targets that a gloved finger would miss."""
    return [name for name, mm in page.evaluate(TARGETS) if mm < least_mm]


def no_overflow(page: Page) -> bool:
    """True where nothing reaches beyond the side of the screen."""
    return page.evaluate("() => document.documentElement.scrollWidth <= innerWidth")


def broken_words(page: Page, selector: str) -> list[str]:
    """Words of the chosen places that a line end splits."""
    return page.evaluate(BROKEN_WORDS, selector)


def settled(page: Page) -> None:
    """Loaded, with what its scripts fetch and draw; the network itself is never idle, since every page asks for the desk."""
    page.wait_for_load_state("load")
    page.wait_for_timeout(300)
    page.wait_for_function("() => !document.querySelector('[aria-busy=true]')")


def open_all(page: Page) -> None:
    """Unfold everything that is folded away."""
    page.evaluate("() => document.querySelectorAll('main details').forEach((part) => (part.open = true))")


# What a person who cannot see or aim well stumbles over, as sentences.
AUDIT = """() => {
  const shown = (node) => node.checkVisibility({ visibilityProperty: true }) && node.getClientRects().length > 0;
  const tell = (node) => `<${node.localName}${node.id ? ` id=${node.id}` : ""}> ${(node.textContent || node.placeholder || "").trim().slice(0, 30)}`;
  const named = (node) => (node.getAttribute("aria-label") || node.getAttribute("title") || node.textContent.trim()
    || [...(node.labels ?? [])].map((label) => label.textContent.trim()).join(" ") || (node.getAttribute("aria-labelledby") && document.getElementById(node.getAttribute("aria-labelledby"))?.textContent)
    || node.querySelector?.("title")?.textContent || "").trim();
  const found = [];
  for (const node of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    const label = node.getAttribute("aria-label") || [...(node.labels ?? [])].map((one) => one.textContent.trim()).join(" ");
    if (!label) found.push(`no label: ${tell(node)}`);
  }
  for (const node of document.querySelectorAll("button, a[href], summary, [role=img], [role=group], nav, fieldset")) {
    const name = node.localName === "fieldset" ? node.querySelector("legend")?.textContent : named(node);
    if (shown(node) && !name) found.push(`no name: ${tell(node)}`);
  }
  const ids = [...document.querySelectorAll("[id]")].map((node) => node.id);
  for (const id of new Set(ids.filter((one, i) => ids.indexOf(one) !== i))) found.push(`id twice: ${id}`);
  let level = 0;
  for (const node of [...document.querySelectorAll("h1, h2, h3, h4, h5, h6")].filter(shown)) {
    const own = Number(node.localName[1]);
    if (own > level + 1) found.push(`h${level} then ${tell(node)}`);
    level = own;
  }
  if ([...document.querySelectorAll("h1")].filter(shown).length > 1) found.push("more than one h1");
  for (const node of document.querySelectorAll("button, .button, input:not([type=hidden]), select, textarea, summary, nav a, .openables > li > a, .trial-list > li > a, .sync-word")) {
    if (!shown(node) || node.closest(".skip, .visually-hidden") || node.matches(".skip, .visually-hidden, .sync-word:has(:empty)")) continue;
    const box = (["checkbox", "radio"].includes(node.type) ? node.closest("label") ?? node : node).getBoundingClientRect();
    if (box.height < 43.5 || box.width < 43.5) found.push(`target ${Math.round(box.width)} × ${Math.round(box.height)}: ${tell(node)}`);
  }
  for (const node of document.querySelectorAll("main a[href]")) {
    if (!shown(node) || node.matches(".button, .skip") || node.closest("table, .openables, .trial-list, dd, dt, summary, caption, ul.kin")) continue;
    const alone = [...node.parentElement.childNodes].every((one) => one === node || !one.textContent.trim());
    if (alone && node.getBoundingClientRect().height < 43.5) found.push(`target ${Math.round(node.getBoundingClientRect().height)} high: ${tell(node)}`);
  }
  for (const node of document.querySelectorAll("img:not([alt])")) found.push(`no alt: ${node.src}`);
  for (const node of document.querySelectorAll("th:not([scope])")) if (node.closest("thead") && !node.hasAttribute("scope")) found.push(`th without scope: ${tell(node)}`);
  return [...new Set(found)];
}"""


def audit(page: Page) -> list[str]:
    """Controls without a name, small targets, headings out of order, ids given twice."""
    return page.evaluate(AUDIT)
