"""A firing logged in real Chromium without the desk: begun from a programme, read, a slip taken back, ended; the desk has all of it afterwards, and another tablet sees it."""

from playwright.sync_api import expect

from tests.browser.bench_page import stored_on_tablet, with_worker
from tests.browser.screen import audit, no_overflow, settled
from tests.entries import WALL_0, entry, new_id


def write_down(page, shown: str) -> None:
    page.get_by_label("The kiln shows").fill(shown)
    page.get_by_role("button", name="Write it down").tap()


def test_a_firing_is_logged_without_the_desk(live_server, browser_context):
    context = browser_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    page.goto(f"{live_server.url}/make/kiln?g=fre-levii-mean")
    page.get_by_role("button", name="The kiln is on: log this firing").tap()
    expect(page.locator("html[data-ready=firing]")).to_be_attached()
    expect(page.locator("#lead")).to_contain_text("0 min in. The plan has 2")
    write_down(page, "hot")
    expect(page.locator("#read-error")).to_contain_text("for example 540")
    write_down(page, "27,5")
    expect(page.locator("#readings li")).to_have_count(1)
    write_down(page, "900")
    expect(page.locator("#readings li")).to_have_count(2)
    page.get_by_role("button", name="Take back 900 °C").tap()
    expect(page.locator("#readings li")).to_have_count(1)
    expect(page.locator("circle.change-dot")).to_have_count(1)
    page.reload()
    expect(page.locator("#readings li")).to_have_count(1)
    page.get_by_text("It is over").tap()
    page.get_by_label("Remarks").fill("invented tray 3")
    page.get_by_role("button", name="End this firing").tap()
    expect(page.locator("#lead")).to_have_text("Ended: whole. invented tray 3")
    kinds = [e["kind"] for e in stored_on_tablet(page) if e["kind"].startswith("firing")]
    assert sorted(kinds) == ["firing.ended", "firing.read", "firing.read", "firing.started", "firing.taken_back"]
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)
    other = browser_context().new_page()
    other.goto(f"{live_server.url}/make/kiln")
    other.get_by_role("link", name="Bet Eli'ezer").click()
    expect(other.locator("#lead")).to_have_text("Ended: whole. invented tray 3")


SEGMENTS = [
    {"kind": "heat", "from_c": 20, "to_c": 560, "rate_k_h": 600, "hold_min": 30, "stress_pa": 600000, "is_by_kiln": True},
    {"kind": "slow", "from_c": 560, "to_c": 460, "rate_k_h": 100, "hold_min": 0, "stress_pa": 500000, "is_by_kiln": False},
    {"kind": "fast", "from_c": 460, "to_c": 20, "rate_k_h": 400, "hold_min": 0, "stress_pa": 600000, "is_by_kiln": False},
]


def test_a_fall_faster_than_planned_is_told_with_the_stress_that_it_leaves(live_server, open_page):
    """Worked by hand: 100 K in half an hour is 200 K/h, twice the plan's 100, so twice its 0.5 MPa; faster falls below the slow part do not count."""
    number, hour = new_id(), 3_600_000
    body = {"glasses": [{"key": "demo-rubin", "name": "Demo Rubin rod"}], "shape": "bead", "size_mm": 12, "soak_c": 560, "open_c": 160, "segments": SEGMENTS}
    told = [entry("firing.started", number, 0, body, WALL_0)]
    told += [entry("firing.read", number, n, {"t_c": t_c}, WALL_0 + int(h * hour)) for n, (h, t_c) in enumerate(((0.9, 555), (1.4, 560), (1.9, 460), (2.0, 380)), 1)]
    for size in ((390, 844), (820, 1180)):
        page = open_page(size, color_scheme="dark" if size[0] > 400 else "light")
        answer = page.request.post(f"{live_server.url}/sync/push", data={"entries": told}).json()
        assert {one["verdict"] for one in answer["verdicts"]} <= {"stored", "same"}
        page.goto(f"{live_server.url}/make/firing?f={number}")
        expect(page.locator("#fall")).to_contain_text("From 560 to 460 °C it fell by 200 K/h, 2.0 times as fast as planned: about 1.0 MPa stays at its surface instead of 0.5")
        expect(page.locator("#readings li").first).to_contain_text("54 min: 555 °C, −5 K to the plan")
        settled(page)
        assert no_overflow(page)
        assert audit(page) == []
