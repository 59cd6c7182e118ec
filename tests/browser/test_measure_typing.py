"""What is typed into a measured test: an entry once it is said, never before; held, with its complaint or its missing reason, until then."""

import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import stored_on_tablet
from tests.browser.conftest import PHONE
from tests.browser.measure_page import CARDS, begin, onward, press_next, read_card, readings, ready

REST_MS = 1500  # longer than any pause after which a reading is written
LEAVE = {
    "the table": lambda page: page.get_by_role("button", name="Chip 3, before: –").click(),
    "the rod": lambda page: page.locator("#place-row button").nth(2).click(),
    "Next": lambda page: press_next(page),
}


def all_read(page) -> list:
    """Every reading as it was made, in order: nothing is hidden by a later one."""
    return [e["body"]["value"] if e["body"]["word"] is None else e["body"]["word"] for e in stored_on_tablet(page) if e["kind"] == "measure.read"]


def kept_thread(page, url: str) -> None:
    begin(page, url, "thread")
    for card in [card for card in CARDS["thread"] if card != "reload"]:
        read_card(page, card)
    expect(page.locator("#next")).to_have_text("Keep")
    press_next(page)
    expect(page.locator("#task-title")).to_have_text("This test is kept")


def test_digits_are_no_readings_until_the_hand_leaves_them(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").press_sequentially("5")
    page.wait_for_timeout(REST_MS)
    assert all_read(page) == []
    page.locator("#task-value").press_sequentially(".25")
    page.wait_for_timeout(REST_MS)
    assert all_read(page) == []
    page.locator("#task-value").blur()
    expect(page.get_by_role("button", name="Chip 1, before: 5.25")).to_have_text("5.25")
    page.wait_for_timeout(REST_MS)
    assert all_read(page) == [5.25]


@pytest.mark.parametrize("leave", LEAVE)
def test_a_number_on_its_way_is_whole_when_the_hand_goes_elsewhere(live_server, browser_context, leave):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").press_sequentially("6.05")
    LEAVE[leave](page)
    expect(page.locator("#task-title" if leave != "Next" else "#task-label")).to_contain_text("Chip 3" if leave != "Next" else "turned a quarter")
    assert all_read(page) == [6.05]


@pytest.mark.parametrize("leave", LEAVE)
def test_a_number_that_cannot_be_meant_holds_the_card_wherever_the_hand_goes(live_server, browser_context, leave):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").press_sequentially("605")
    page.wait_for_timeout(REST_MS)
    LEAVE[leave](page)
    expect(page.locator("#task-error")).to_contain_text("605 mm cannot be meant")
    expect(page.locator("#task-title")).to_have_text("Chip 1, glass A")
    page.locator("#more").click()
    expect(page.locator("#task-value")).to_have_value("605")
    page.wait_for_timeout(REST_MS)
    assert all_read(page) == []
    page.reload()
    ready(page)
    expect(page.locator("#task-value")).to_have_value("605")
    expect(page.locator("#task-error")).to_contain_text("605 mm cannot be meant")
    page.locator("#task-value").fill("6.05")
    LEAVE[leave](page)
    expect(page.locator("#task-error")).to_be_hidden()
    expect(page.get_by_role("button", name="Chip 1, before: 6.05")).to_have_text("6.05")
    page.wait_for_timeout(REST_MS)  # shown at once, in the store a moment later
    assert all_read(page) == [6.05]


def test_a_square_of_the_board_waits_for_the_number_too(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "fuse")
    for square, letter in (("a1", "A"), ("c1", "B")):
        read_card(page, ("lay", square, letter))
    onward(page)
    page.locator("#task-value").press_sequentially("0.0001")
    page.locator("[data-square=c1]").click()
    expect(page.locator("#task-error")).to_contain_text("cannot be meant")
    page.locator("#task-value").fill("0.4")
    page.locator("[data-square=c1]").click()
    expect(page.locator("#task-title")).to_have_text("Square c1, glass B")
    assert all_read(page) == ["A", "B", 0.4]


def test_a_step_after_typing_is_one_reading(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").press_sequentially("5,4")
    page.locator("#more").click()
    page.wait_for_timeout(REST_MS)
    assert all_read(page) == [5.45]


def test_a_half_typed_number_outlives_a_page_that_dies(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").press_sequentially("6.")
    page.evaluate("() => addEventListener('pagehide', (event) => event.stopImmediatePropagation(), true)")  # as where the browser is killed
    twin = page.context.new_page()
    twin.goto(page.url)
    ready(twin)
    expect(twin.locator("#task-value")).to_have_value("6.")
    twin.wait_for_timeout(REST_MS)
    assert all_read(twin) == []


def test_a_change_of_a_kept_test_waits_for_its_reason(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    kept_thread(page, live_server.url)
    page.get_by_role("button", name="Thread 1, bow: 6.5").click()
    page.locator("#task-value").press_sequentially("1")
    page.locator("#task-value").fill("3.5")
    page.get_by_role("button", name="Thread 1, length: 300").click()
    expect(page.locator("#task-error")).to_contain_text("why it is changed")
    expect(page.locator("#task-label")).to_contain_text("Bow")
    page.locator("#why").press_sequentially("the wrong li")
    page.reload()
    ready(page)
    expect(page.locator("#task-value")).to_have_value("3.5")
    expect(page.locator("#why")).to_have_value("the wrong li")
    expect(page.locator("#next")).to_have_text("Record the change")
    assert readings(stored_on_tablet(page))["1/bow_mm"] == 6.5
    page.locator("#why").fill("the wrong line")
    page.get_by_role("button", name="Thread 1, length: 300").click()
    expect(page.locator("#task-label")).to_contain_text("Straight from end to end")
    expect(page.locator("#why-part")).to_be_hidden()
    last = stored_on_tablet(page)[-1]["body"]
    assert (last["quantity"], last["value"], last["why"]) == ("bow_mm", 3.5, "the wrong line")
    page.reload()
    ready(page)
    expect(page.locator("#task-title")).to_have_text("This test is kept")


def test_a_changed_word_waits_too_and_goes_when_it_is_put_back(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    kept_thread(page, live_server.url)
    page.get_by_role("button", name="Thread 1, inside: Glass A inside").click()
    page.locator("#word-choices").get_by_role("button", name="Straight", exact=True).click()
    page.reload()
    ready(page)
    expect(page.locator("#word-choices [aria-pressed=true]")).to_contain_text("Straight")
    page.get_by_role("button", name="Thread 1, length: 300").click()
    expect(page.locator("#task-error")).to_contain_text("why it is changed")
    page.locator("#word-choices").get_by_role("button", name="Glass A inside", exact=True).click()
    expect(page.locator("#next")).to_have_text("Done")
    press_next(page)
    expect(page.locator("#task-title")).to_have_text("This test is kept")
    assert len(all_read(page)) == 5


def test_a_stop_goes_ahead_without_a_number_that_cannot_be_meant(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").fill("6")
    onward(page)
    page.locator("#task-value").press_sequentially("605")
    page.get_by_text("Stop this test").click()
    page.get_by_label("Why (it stays in the book").fill("the rod broke")
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#run-lead")).to_contain_text("Stopped: the rod broke")
    assert all_read(page) == [6.0] and stored_on_tablet(page)[-1]["kind"] == "measure.abandoned"
    page.reload()
    ready(page)
    expect(page.locator("#task")).to_be_hidden()


def test_a_second_tab_shows_on_its_card_what_the_first_reads(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    begin(page, live_server.url, "pull")
    page.locator("#task-value").fill("6")
    page.locator("#task-value").blur()
    expect(page.get_by_role("button", name="Chip 1, before: 6.00")).to_be_visible()
    twin = page.context.new_page()
    twin.goto(page.url)
    ready(twin)
    expect(twin.locator("#task-value")).to_have_value("6.00")
    page.locator("#task-value").fill("7")
    page.locator("#task-value").blur()
    expect(twin.locator("#task-value")).to_have_value("7.00")
    expect(twin.locator("#task-before")).to_have_text("Earlier: 6.00\u202fmm")
    twin.locator("#task-value").press("End")
    twin.locator("#task-value").press_sequentially("1")
    page.locator("#task-value").fill("8")
    page.locator("#task-value").blur()
    expect(twin.get_by_role("button", name="Chip 1, before: 8.00")).to_be_visible()
    expect(twin.locator("#task-value")).to_have_value("7.001")


def test_nine_chips_are_each_big_enough_for_a_glove(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    page.goto(f"{live_server.url}/bench/pull")
    ready(page)
    for name in ("Modern float", "Demo unknown"):
        page.locator("#search").fill(name)
        page.locator("#choices button").first.click()
    for place in range(6):
        page.locator("#rod-letters button").nth((place + 1) % 2).click()
    page.get_by_role("button", name="Start measuring").click()
    chips = page.locator("#place-row button")
    expect(chips).to_have_count(9)
    for i, value in enumerate(("12.05", "11.95", "12.1")):
        page.locator("#place-row button").nth(i).click()
        page.locator("#task-value").fill(value)
        onward(page)
    boxes = [chips.nth(i).bounding_box() for i in range(9)]
    assert min(min(box["width"], box["height"]) for box in boxes) >= 48
    assert min(box["x"] for box in boxes) >= 0 and max(box["x"] + box["width"] for box in boxes) <= PHONE["width"] == 390
    assert chips.evaluate_all("(all) => all.filter((one) => one.scrollWidth > one.clientWidth).length") == 0
