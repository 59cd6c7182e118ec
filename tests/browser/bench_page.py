"""What a person does at the bench, for the browser tests."""

import sqlite3
from pathlib import Path

from playwright.sync_api import Page, expect

STAGES = ("Into the flame", "Sagged", "Round", "Out of the flame", "Glow gone")
GAP_MS = 620


def with_worker(page: Page, url: str) -> None:
    """Open the bench and wait until the whole shell is kept on the tablet."""
    page.goto(f"{url}/bench")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")  # it takes the page over once all of the shell is kept


def to_the_flame(page: Page, url: str) -> None:
    """From the bench to a trial that is set up."""
    page.goto(f"{url}/bench")
    page.locator("#quick-chips .chip").first.click()
    page.get_by_role("button", name="To the flame").click()
    expect(page.locator("#press-word")).to_have_text(STAGES[0])


def press(page: Page, first: int, count: int) -> None:
    """Press `count` times from stage number `first`, each once the page says that it is next."""
    for number in range(first, first + count):
        expect(page.locator("#press-word")).to_have_text(STAGES[number])
        if number == 0:
            page.wait_for_timeout(GAP_MS + 100)  # a page that has just opened takes no press: it would be the second tap of a double one
        page.locator("#press").click()
        done = page.locator("#press-word") if number < 4 else page.locator("#summary-lead")
        expect(done).to_have_text(STAGES[number + 1]) if number < 4 else expect(done).to_contain_text("All five")
        page.wait_for_timeout(GAP_MS)


def choose_for_plan(page: Page, names: tuple[str, ...]) -> None:
    """Glasses of a plan by names that nobody lists, on the page of the plan."""
    expect(page.locator("html[data-ready=plan]")).to_be_attached()
    for name in names:
        page.locator("#search").fill(name)
        page.locator("#choices button").last.click()


def in_session(page: Page, button: str) -> None:
    """Press a button of the session's page once it takes presses: one that has just opened takes none."""
    expect(page.locator("html[data-ready=session]")).to_be_attached()
    page.wait_for_timeout(GAP_MS + 100)
    page.locator(button).click()


def close_session(page: Page) -> None:
    """Close it, and say so once more."""
    in_session(page, "#close")
    page.locator("#end-now").click()


def out_of_kiln(page: Page) -> None:
    """The press at the kiln, in a session."""
    expect(page.locator("#press-word")).to_have_text("Out of the kiln")
    page.wait_for_timeout(GAP_MS + 100)  # a page that has just opened takes no press
    page.locator("#press").click()
    expect(page.locator("#press-word")).to_have_text(STAGES[0])


def stored_on_tablet(page: Page) -> list[dict]:
    """The tablet's entries, read past our own code."""
    return page.evaluate("""() => new Promise((resolve, reject) => {
      const open = indexedDB.open("isokom");
      open.onerror = () => reject(open.error);
      open.onsuccess = () => {
        const all = open.result.transaction("entries").objectStore("entries").getAll();
        all.onsuccess = () => { open.result.close(); resolve(all.result.sort((a, b) => a.n - b.n)); };
      };
    })""")


def stored_at_desk(database: Path) -> list[tuple[str, str]]:
    """(id, kind) of the desk's entries, read past our own code."""
    with sqlite3.connect(database) as connection:
        return connection.execute("SELECT id, kind FROM trial_entry ORDER BY n").fetchall()
