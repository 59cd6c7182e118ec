"""Trials without the desk: timed, kept, counted on every page, and handed over once when the desk is back."""

import os
import signal
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Error as PlaywrightError
from playwright.sync_api import expect

from tests.books import empty_book
from tests.browser.bench_page import press, stored_at_desk, stored_on_tablet, to_the_flame, with_worker
from tests.browser.conftest import PHONE, TABLET
from tests.processes import isokom


def test_a_whole_trial_with_a_dead_desk_is_stored_once_when_it_is_back(live_server, tablet_context):
    page = tablet_context(PHONE).new_page()
    with_worker(page, live_server.url)
    live_server.kill()
    to_the_flame(page, live_server.url)
    press(page, 0, 5)
    page.get_by_label("What you saw").fill("small bubbles, demo")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.locator("#summary-lead")).to_have_text("Kept.")
    for path in ("/bench", "/bench/new", "/sync", "/glass", "/results"):
        page.goto(live_server.url + path)
        expect(page.locator("#sync-word")).to_have_text("Desk not reachable · 7 kept here")
    expect(page.locator("[data-made-ms]")).to_contain_text("This copy is from")
    live_server.start()
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    tablet = [(e["id"], e["kind"]) for e in stored_on_tablet(page)]
    assert stored_at_desk(live_server.database) == tablet and len(tablet) == 7
    page.goto(f"{live_server.url}/results")
    expect(page.locator("#trials")).to_contain_text("1 trial: 1 kept.")


def test_without_a_network_trials_wait_and_flush_when_it_is_there(live_server, tablet_context):
    context = tablet_context(PHONE)
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    assert stored_at_desk(live_server.database) == []
    context.set_offline(False)
    expect(page.locator("[data-sync-word]")).to_have_text("All sent")
    assert [kind for _id, kind in stored_at_desk(live_server.database)] == ["trial.started", "trial.pressed"]


def test_nothing_waiting_is_not_called_sent_while_the_desk_is_away(live_server, tablet_context):
    page = tablet_context(PHONE).new_page()
    with_worker(page, live_server.url)
    page.goto(f"{live_server.url}/results")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    expect(page.locator("[data-made-ms]")).to_be_hidden()
    live_server.kill()
    page.goto(f"{live_server.url}/results")
    expect(page.locator("#sync-word")).to_have_text("Desk not reachable · nothing waits")
    expect(page.locator("[data-made-ms]")).to_be_visible()


def of_browser(folder: str) -> list[int]:
    """Numbers of the processes whose command names this folder."""
    found = []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            command = path.read_bytes()
        except (FileNotFoundError, ProcessLookupError):
            continue
        if f"--user-data-dir={folder}".encode() in command:
            found.append(int(path.parent.name))
    return found


def kill_tree(folder: str) -> int:
    """Kill -9 every process of the browser that uses this folder; how many there were."""
    pids = of_browser(folder)
    for pid in pids:
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            continue
    return len(pids)


def test_a_browser_killed_in_the_middle_finds_its_trial_running(live_server, persistent, tmp_path):
    context = persistent()
    page = context.new_page()
    with_worker(page, live_server.url)
    live_server.kill()
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    assert kill_tree(str(tmp_path / "profile")) > 0
    with suppress(PlaywrightError):  # there may be nothing left to close
        context.close()
    page = persistent().new_page()
    page.goto(f"{live_server.url}/bench")
    page.get_by_role("link", name="Go on with").click()
    press(page, 2, 3)
    assert [e["n"] for e in stored_on_tablet(page)] == [0, 1, 2, 3, 4]
    live_server.start()
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(stored_at_desk(live_server.database)) == 5


def test_a_reply_that_is_lost_leads_to_a_repeat_and_one_stored_copy(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    lost = []

    def lose_reply(route):
        route.fetch() if len(lost) < 2 else None
        lost.append(1)
        route.abort() if len(lost) <= 2 else route.continue_()

    page.route("**/sync/push", lose_reply)
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    page.goto(f"{live_server.url}/sync")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(lost) >= 3
    assert [kind for _id, kind in stored_at_desk(live_server.database)] == ["trial.started", "trial.pressed"]


def test_a_refused_entry_waits_for_a_person_with_its_reason_and_any_desk_takes_it_from_a_file(live_server, browser_context, tmp_path):
    page = browser_context(PHONE).new_page()
    page.route("**/sync/push", lambda route: route.fulfill(json={"verdicts": [
        {"id": e["id"], "verdict": "refused", "code": "demo", "message": "Refused for this test."} for e in route.request.post_data_json["entries"]]}))
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    expect(page.locator("[data-sync-word]")).to_have_text("1 refused")
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#refused-list")).to_contain_text("Refused for this test.")
    with page.expect_download() as saved:
        page.get_by_role("button", name="Save what waits to a file").click()
    expect(page.locator("#saved")).to_contain_text("1 entry is in the file")
    other = tmp_path / "other desk" / "bench.db"
    told = isokom("unpack", "--database", str(empty_book(other)), str(saved.value.path())).stdout
    assert "1 new, 0 were here already" in told, told
    assert stored_at_desk(other) == [(one["id"], one["kind"]) for one in stored_on_tablet(page)]
    page.unroute("**/sync/push")
    page.get_by_role("button", name="Offer them again").click()
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(stored_at_desk(live_server.database)) == 1


@pytest.mark.parametrize("answer", [{"status": 500, "body": "x"}, {"status": 503, "body": "{}"}, {"status": 200, "body": "<html>"}, {"status": 200, "json": {"verdicts": []}}])
def test_any_other_answer_leaves_the_entry_waiting(live_server, browser_context, answer):
    page = browser_context(PHONE).new_page()
    page.route("**/sync/push", lambda route: route.fulfill(**answer))
    to_the_flame(page, live_server.url)
    with page.expect_response("**/sync/push"):
        press(page, 0, 1)
    assert [e["state"] for e in stored_on_tablet(page)] == ["waiting"]
    expect(page.locator("[data-sync-word]")).to_contain_text("1")


def test_the_desk_sees_a_trial_without_a_reload(live_server, browser_context):
    desk = browser_context(TABLET).new_page()
    desk.goto(f"{live_server.url}/results")
    expect(desk.locator("#trials")).to_contain_text("No trial has arrived yet")
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 1)
    expect(desk.locator("#trials")).to_contain_text("1 trial: 1 running", timeout=12_000)


@pytest.mark.parametrize("presses", [0, 1], ids=["nothing new", "one more press"])
def test_a_desk_that_was_set_back_gets_everything_again_by_itself(live_server, browser_context, presses):
    """What was confirmed and then lost at the desk, with its book put back to an older copy, the tablet offers again; the person does nothing."""
    page = browser_context(PHONE).new_page()
    to_the_flame(page, live_server.url)
    press(page, 0, 2)
    expect(page.locator("[data-sync-word]")).to_have_text("All sent")
    live_server.kill()
    for ending in ("", "-wal", "-shm"):
        live_server.database.with_name(live_server.database.name + ending).unlink(missing_ok=True)
    empty_book(live_server.database)
    press(page, 2, presses)
    live_server.start()
    page.goto(f"{live_server.url}/sync")
    page.get_by_role("button", name="Send now").click()
    for _ in range(100):
        if len(found := stored_at_desk(live_server.database)) == 2 + presses:
            break
        page.wait_for_timeout(100)
        page.locator("#send-now:enabled").click()
    assert sorted(found) == sorted((e["id"], e["kind"]) for e in stored_on_tablet(page))
    expect(page.locator("#sync-word")).to_have_text("All sent")
