"""Measure, never gate: from the finger going down to the entry on disk and to the changed screen. `python -m tests.browser.measure_press`"""

import statistics
import sys
import tempfile
from pathlib import Path

from playwright.sync_api import sync_playwright

from tests.browser.bench_page import to_the_flame
from tests.browser.conftest import ARGS, CHROMIUM, PHONE
from tests.conftest import LiveServer

PRESSES = 60
WATCH = """
window.down = 0; window.spans = [];
addEventListener("pointerdown", (e) => { if (e.target.closest("#press")) window.down = e.timeStamp; }, true);
const transaction = IDBDatabase.prototype.transaction;
IDBDatabase.prototype.transaction = function (stores, mode, options) {
  const tx = transaction.call(this, stores, mode, options);
  if (mode === "readwrite" && window.down && [stores].flat().includes("facts")) {
    const down = window.down; window.down = 0;
    tx.addEventListener("complete", () => { const disk = performance.now() - down; requestAnimationFrame(() => window.spans.push([disk, performance.now() - down])); });
  }
  return tx;
};
"""


def press_many(page, url: str, wanted: int) -> list[list[float]]:
    """[ms to disk, ms to the next frame] for each press, over several trials."""
    spans = []
    while len(spans) < wanted:
        to_the_flame(page, url)
        for _ in range(5):
            page.wait_for_timeout(640)
            page.locator("#press").click()
        page.wait_for_timeout(640)
        spans += page.evaluate("() => window.spans.splice(0)")
    return spans[:wanted]


def told(name: str, values: list[float]) -> str:
    """Median and 95th percentile in words."""
    return f"{name}: median {statistics.median(values):.1f} ms, 95 % {statistics.quantiles(values, n=20)[-1]:.1f} ms, most {max(values):.1f} ms"


def main() -> None:
    """Start a server and a browser, press, print."""
    server = LiveServer(Path(tempfile.mkdtemp()) / "book" / "bench.db").start()
    try:
        with sync_playwright() as playwright:
            page = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS).new_page(viewport=PHONE)
            page.add_init_script(WATCH)
            spans = press_many(page, server.url, PRESSES)
    finally:
        server.kill()
    sys.stdout.write(f"{len(spans)} presses\n{told('finger down to disk', [s[0] for s in spans])}\n{told('finger down to the next frame', [s[1] for s in spans])}\n")


if __name__ == "__main__":
    main()
