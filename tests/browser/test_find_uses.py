"""What went into a test is written into the ledger, whatever is left and whatever is known here, once; and after what two tablets wrote, whatever their clocks say."""

import re
import time

import httpx
import pytest
from playwright.sync_api import expect

from server.store.log import UUID7
from tests.browser.bench_page import stored_on_tablet
from tests.browser.conftest import PHONE, TABLET
from tests.browser.find_page import act, add_piece, agree, new_find, open_piece, ready, with_worker

TRIALS = [f"018f0000-0000-7000-8000-0000000000e{n}" for n in range(4)]
NOWHERE = "018f0000-0000-7000-8000-0000000000ff"
CALL = """async ([name, ...given]) => {
  const base = document.querySelector("script[src*='/static/']").src.replace(/(\\/static\\/[^/]+\\/).*/, "$1find/");
  const found = await import(base + "finds.js");
  return found[name](...given).catch((error) => `${error.name}: ${error.message}`);
}"""
CLOCK_BEHIND = "const right = Date.now.bind(Date); Date.now = () => right() - 300_000;"  # five minutes


def call(page, *given):
    """A function of finds.js in the page; what it threw comes as text."""
    return page.evaluate(CALL, list(given))


def call_without_a_store(page, *given):
    """The same while the store cannot be read. It can again at once: what the page does by itself meanwhile would meet it too."""
    broken = """const whole = IDBIndex.prototype.getAll; IDBIndex.prototype.getAll = () => { throw new DOMException("gone", "UnknownError"); };"""
    return page.evaluate(f"async (given) => {{ {broken} try {{ return await ({CALL})(given); }} finally {{ IDBIndex.prototype.getAll = whole; }} }}", list(given))


def piece_page(page, url: str, mass: str = "3") -> str:
    new_find(page, url)
    agree(page)
    add_piece(page, "Demo sherd", mass)
    return open_piece(page, "Demo sherd")


def uses(page) -> list[tuple]:
    """(piece, mass, trial) as they were recorded on this tablet."""
    return sorted((e["subject"], e["body"]["mass_g"], e["body"]["trial"]) for e in stored_on_tablet(page) if e["kind"] == "piece.used")


def use(piece: str, mass_g: float, trial: str, **more) -> dict:
    return {"pieceId": piece, "mass_g": mass_g, "test": "flame", "trial": trial, **more}


def test_what_has_happened_is_written_beyond_what_is_left_and_of_a_piece_not_known_here(page, live_server):
    piece = piece_page(page, live_server.url)
    for known, mass_g, trial in ((piece, 2, TRIALS[0]), (piece, 1.5, TRIALS[1]), (NOWHERE, 4, TRIALS[2])):
        made = call(page, "recordUse", known, {"mass_g": mass_g, "test": "flame", "trial": trial})
        assert made["subject"] == known and re.fullmatch(UUID7, made["id"])
    expect(page.locator("#over-notice")).to_contain_text("0.5 g more was taken from this piece than there was")
    expect(page.locator("#left")).to_contain_text("0")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len([e for e in httpx.get(f"{live_server.url}/finds/log.json").json()["entries"] if e["kind"] == "piece.used"]) == 3


def test_a_use_is_written_once_for_its_trial_and_piece_also_by_two_at_once_and_without_a_question_to_the_desk(page, live_server):
    piece = piece_page(page, live_server.url)
    expect(page.locator("#sync-word")).to_have_text("All sent")
    asked = []
    page.route("**/finds/log.json", lambda route: (asked.append(1), route.abort()))
    told = page.evaluate("""async ([piece, other, trial]) => {
      const base = document.querySelector("script[src$='find/piece.js']").src.replace("piece.js", "");
      const { recordUse, recordUses } = await import(base + "finds.js");
      const about = { mass_g: 1, test: "flame", trial };
      const made = await Promise.all([recordUse(piece, about), recordUse(piece, about), recordUses([{ pieceId: piece, ...about }])]);
      return [made.flat().map(({ id }) => id), (await recordUse(piece, about)).id, await recordUses([{ pieceId: piece, ...about }]), (await recordUse(other, about)).id];
    }""", [piece, NOWHERE, TRIALS[0]])
    assert len({*told[0], told[1]}) == 1 and told[2] == [] and told[3] != told[1]
    assert uses(page) == sorted([(piece, 1, TRIALS[0]), (NOWHERE, 1, TRIALS[0])])
    made = [call(page, "recordUse", piece, {"mass_g": 0.5, "test": "flame"})["id"] for _ in range(2)]  # without a trial each call is a use of its own
    assert made[0] != made[1] and len(uses(page)) == 4
    page.unroute("**/finds/log.json")


def test_a_use_written_by_an_earlier_version_counts_as_written(page, live_server):
    piece = piece_page(page, live_server.url)
    page.evaluate("""async ([piece, trial]) => {
      const base = document.querySelector("script[src$='find/piece.js']").src.replace("find/piece.js", "");
      const { record } = await import(base + "web/outbox.js");
      await record("piece.used", piece, { mass_g: 1, test: "flame", trial });
    }""", [piece, TRIALS[0]])
    assert call(page, "recordUses", [use(piece, 1, TRIALS[0]), use(piece, 0.5, TRIALS[1])])[0]["body"]["trial"] == TRIALS[1]
    assert uses(page) == [(piece, 0.5, TRIALS[1]), (piece, 1, TRIALS[0])]


def test_a_use_that_a_person_took_back_does_not_come_again(page, live_server):
    piece = piece_page(page, live_server.url)
    call(page, "recordUse", piece, {"mass_g": 2, "test": "flame", "trial": TRIALS[0]})
    page.get_by_role("button", name="Take back: Used in a flame test").tap()
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#left")).to_contain_text("3")
    assert call(page, "recordUses", [use(piece, 2, TRIALS[0])]) == []
    page.reload()
    ready(page)
    expect(page.locator("#left")).to_contain_text("3")


def test_a_use_written_down_late_stands_where_it_happened(page, live_server):
    piece = piece_page(page, live_server.url)
    started_ms = int(time.time() * 1000)
    page.wait_for_function("(then) => Date.now() > then", arg=started_ms)
    act(page, "Weighed", "1")  # after the trial, before its use is written: 2 g of the 3 g went into it
    expect(page.locator("#left")).to_contain_text("1")
    call(page, "recordUses", [use(piece, 2, TRIALS[0], at_ms=started_ms)])
    expect(page.locator("#sums")).to_have_text("Of 3 g at the start: 1 g left, 2 g used.")


def test_only_a_store_that_refuses_keeps_a_use_from_being_written(page, live_server):
    piece = piece_page(page, live_server.url)
    page.evaluate("""() => { IDBObjectStore.prototype.add = () => { throw new DOMException("full", "QuotaExceededError"); }; }""")
    assert call(page, "recordUses", [use(piece, 2, TRIALS[0])]) == "NotKept: Not stored: this device is full."
    assert call_without_a_store(page, "recordUse", piece, use(piece, 2, TRIALS[0])) == "NotKept: Not stored: this device's store cannot be read (UnknownError)."
    page.reload()
    ready(page)
    assert len(call(page, "recordUses", [use(piece, 2, TRIALS[0])])) == 1


def two_tablets(live_server, browser_context) -> tuple:
    """One that has weighed a piece (4 g), and one whose clock is behind and that has seen it; both without the desk from then on."""
    contexts = [browser_context(size) for size in (PHONE, TABLET)]
    first, behind = (context.new_page() for context in contexts)
    contexts[1].add_init_script(CLOCK_BEHIND)
    piece = piece_page(first, live_server.url, "4")
    expect(first.locator("#sync-word")).to_have_text("All sent")
    with_worker(behind, live_server.url)
    behind.goto(f"{live_server.url}/finds/piece?p={piece}")
    ready(behind)
    expect(behind.locator("#left")).to_contain_text("4")
    for context in contexts:
        context.set_offline(True)
    return contexts, first, behind, piece


@pytest.mark.parametrize("way", ["by hand", "by a trial", "by a trial on a page that never asked"])
def test_a_use_by_a_tablet_whose_clock_is_behind_comes_after_the_weighing(live_server, tablet_context, way):
    contexts, first, behind, piece = two_tablets(live_server, tablet_context)
    if way == "by hand":
        act(behind, "Used in a test", "1,5")
    else:
        if way.endswith("asked"):
            behind.goto(f"{live_server.url}/bench")
        assert call(behind, "recordUse", piece, {"mass_g": 1.5, "test": "flame", "trial": TRIALS[0]})["body"]["mass_g"] == 1.5
        behind.goto(f"{live_server.url}/finds/piece?p={piece}")
    for context in contexts:
        context.set_offline(False)
    for page in (first, behind):
        expect(page.locator("#left")).to_contain_text("2.5", timeout=20_000)
        expect(page.locator("#over-notice")).to_be_hidden()
        expect(page.locator("#sums")).to_have_text("Of 4 g at the start: 2.5 g left, 1.5 g used.")


def test_a_cut_into_a_piece_comes_after_what_is_known_of_both(page, live_server):
    piece_page(page, live_server.url, "4")
    page.evaluate(CLOCK_BEHIND)
    act(page, "Cut", "1", Label_of_the_new_piece="Demo chip")
    expect(page.locator("#left")).to_contain_text("3")
    act(page, "Returned", "0,5")
    expect(page.locator("#sums")).to_have_text("Of 4 g at the start: 2.5 g left, 1 g cut off, 0.5 g returned.")
    times = [(e["at_ms"], e["kind"]) for e in stored_on_tablet(page) if e["kind"] in ("piece.weighed", "piece.cut", "piece.returned")]
    assert [kind for _, kind in sorted(times)] == ["piece.weighed", "piece.cut", "piece.returned"]


def test_a_refusal_told_to_a_tablet_whose_clock_is_behind_is_the_last_word(live_server, tablet_context):
    contexts, first, behind, _ = two_tablets(live_server, tablet_context)
    behind.locator("#to-find").tap()
    ready(behind)
    behind.locator("#consent-act").tap()
    behind.get_by_role("radio", name="Refused").check()
    behind.get_by_role("button", name="Keep this answer").tap()
    expect(behind.locator("#consent-said")).to_contain_text("Nothing of this find is to be used up.")
    for context in contexts:
        context.set_offline(False)
    first.locator("#to-find").tap()
    expect(first.locator("#consent-said")).to_contain_text("Nothing of this find is to be used up.", timeout=20_000)
