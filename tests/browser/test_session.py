"""A session at the bench: planned, blind, run dish after dish, offline, with reloads, and read at the desk."""

import math

import pytest
from playwright.sync_api import expect
from scipy import stats

from server.plan.order import runs_of
from tests.browser.bench_page import GAP_MS, choose_for_plan, close_session, in_session, out_of_kiln, press, stored_on_tablet, with_worker
from tests.browser.screen import no_overflow, too_small

SIZES = [{"width": 390, "height": 844}, {"width": 820, "height": 1180}]
GLASSES = ("Demo clear rod (invented)", "Demo opal rod (invented)")


def make_plan(page, repeats: int = 1) -> None:
    """Two invented glasses, the first as the reference."""
    choose_for_plan(page, GLASSES)
    page.locator("#planned label").first.click()
    for _ in range(3 - repeats):
        page.locator("[data-step='-1']").click()
    page.locator("#c-torch").fill("invented hand torch")


def run_dish(page, is_checked: bool = False) -> None:
    """One run: out of the kiln, then the five presses, then keep."""
    if not is_checked:
        page.locator("[data-check=weighed]").click()
    in_session(page, "#go")
    expect(page.locator("#press-word")).to_have_text("Out of the kiln")
    box = page.locator("#press").bounding_box()
    assert min(box["width"], box["height"]) * 25.4 / 96 >= 18  # mm: the press of a running trial
    out_of_kiln(page)
    page.reload()  # in the middle: the press at the kiln and those in the flame are all still there
    press(page, 0, 2)
    page.reload()
    press(page, 2, 3)
    page.locator("#keep").click()


def test_a_blind_session_from_plan_to_desk(tablet_context, live_server):
    context = tablet_context(viewport=SIZES[0])
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    expect(page.locator("#cost")).to_have_text("3 runs, about 12 min. 2 g of each glass, 4 g of the reference.")
    page.reload()
    expect(page.locator("#planned li")).to_have_count(2)
    expect(page.locator("#c-torch")).to_have_value("invented hand torch")
    seed = page.locator("#seed").input_value()
    assert too_small(page) == [] and no_overflow(page)
    page.locator("#make").click()

    expect(page.locator("#lead")).to_have_text("Run 1 of 3. Nothing is heated yet.")
    codes = [run["code"] for run in runs_of(seed, 2, 1, 0)]
    expect(page.locator("#code")).to_have_text(codes[0])
    assert too_small(page) == [] and no_overflow(page)
    for number, code in enumerate(codes):
        expect(page.locator("#code")).to_have_text(code)
        run_dish(page)
        if number < 2:
            expect(page.locator("#lead")).to_contain_text(f"Run {number + 2} of 3")
            assert not any(name in page.locator("main").inner_text() for name in GLASSES)
            page.reload()
    expect(page.locator("#lead")).to_have_text("All 3 dishes are through.")
    page.goto(f"{live_server.url}/bench")
    expect(page.locator("#recent-list")).to_contain_text(f"Dish {codes[0]}")
    assert not any(name in page.locator("main").inner_text() for name in GLASSES)

    context.set_offline(False)
    desk = context.new_page()
    desk.goto(f"{live_server.url}/results")
    expect(desk.locator("#trials")).to_contain_text("3 covered until its blind session is closed", timeout=20_000)
    page.go_back()
    close_session(page)
    expect(page.locator("#drift")).to_contain_text("The reference was round after")
    expect(page.locator("#by-glass")).to_contain_text(GLASSES[1])
    expect(desk.locator("#trials")).to_contain_text("3 kept", timeout=20_000)
    desk.get_by_role("link", name="Session").first.click()
    expect(desk.locator(".lead")).to_contain_text("3 of 3 runs are kept. The reference was round after")
    started = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "trial.started"]
    assert all(body["out_of_kiln"]["stage"] == "kiln_out" and body["checked"] == ["weighed"] and body["torch"] == "invented hand torch" for body in started)


def test_a_late_press_is_corrected_with_a_reason_and_the_original_stays(browser_context, live_server):
    context = browser_context()
    page = context.new_page()
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    in_session(page, "#go")
    out_of_kiln(page)
    press(page, 0, 5)
    before = float(page.locator("#times tr", has_text="Round").locator("td.n").inner_text().split("\u202f")[0])
    page.locator("#move-press").click()
    page.locator("#moved-press label", has_text="Round").click()
    walls = [e["body"]["wall_ms"] for e in stored_on_tablet(page) if e["kind"] == "trial.pressed"]
    steps = math.ceil((walls[1] - walls[0]) / 500) - 1  # one more would pass the press before it
    for _ in range(steps + 1):
        page.locator("#sooner").click()
    expect(page.locator("#moved-by")).to_have_text(f"{steps / 2:.1f} s sooner")
    page.locator("[data-why=late]").click()
    expect(page.locator("#flags")).to_contain_text("corrected afterwards")
    after = float(page.locator("#times tr", has_text="Round").locator("td.n").inner_text().split("\u202f")[0])
    assert math.isclose(before - after, steps / 2, abs_tol=0.051)
    entries = stored_on_tablet(page)
    moved = next(e["body"] for e in entries if e["kind"] == "trial.corrected")
    assert steps > 0 and (moved["shift_ms"], moved["reason"]) == (-500 * steps, "late") and moved["entry"] in {e["id"] for e in entries if e["kind"] == "trial.pressed"}
    way = float(page.locator("#times tr", has_text="On the way").locator("td.n").inner_text().split("\u202f")[0])
    page.locator("#move-press").click()
    page.locator("#moved-press label", has_text="Out of the kiln").click()
    page.locator("#later").click()
    expect(page.locator("#moved-by")).to_have_text("0.5 s later")
    page.locator("[data-why=early]").click()
    expect(page.locator("#times tr", has_text="On the way").locator("td.n")).not_to_contain_text(f"{way:.1f}")
    assert math.isclose(way - float(page.locator("#times tr", has_text="On the way").locator("td.n").inner_text().split("\u202f")[0]), 0.5, abs_tol=0.101)
    entries = stored_on_tablet(page)
    start = next(e for e in entries if e["kind"] == "trial.started")
    assert [e["body"] for e in entries if e["kind"] == "trial.corrected"][-1] == {"entry": start["id"], "shift_ms": 500, "reason": "early", "stage": "kiln_out"}


def test_uncovering_and_leaving_out_are_written_into_the_book(browser_context, live_server):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    in_session(page, "#skip")
    page.locator("[data-why=broken]").click()
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    expect(page.locator("#dishes")).to_contain_text("left out: broken")
    page.locator("#laying summary").click()
    page.locator("#show-list").click()
    expect(page.locator("#list")).to_contain_text(GLASSES[1])
    page.reload()
    expect(page.locator("#book")).to_contain_text("The list for laying out was opened.")
    expect(page.locator("#dishes")).not_to_contain_text(GLASSES[1])
    page.locator("#uncover-part summary").click()
    page.locator("#uncover-why").fill("training")
    page.locator("#uncover-now").click()
    expect(page.locator("#dishes")).to_contain_text(GLASSES[1])
    expect(page.locator("#book")).to_contain_text(": training.")
    page.locator("#conditions summary").click()
    page.locator("#changed-what").select_option("room_c")
    page.locator("#changed").fill("900")
    page.locator("#save-changed").click()
    expect(page.locator("#changed-error")).to_have_text("Give a number from -40 to 60.")
    page.locator("#changed").fill("24,5")
    page.locator("#save-changed").click()
    expect(page.locator("#standing")).to_contain_text("room 24.5 °C")


FEW = [(3, 3), (2, 2), (2, 3), (1, 3), (30, 30)]


def power_of(sd: float, percent: float, first: int, second: int) -> float:
    """Exact power of the two-sample t-test at 5 %, from the non-central t of scipy (general statistics library); the other tail adds nothing at such a power."""
    df, shift = first + second - 2, math.log(1 + percent / 100) / sd / math.sqrt(1 / first + 1 / second)
    return stats.nct.sf(stats.t.ppf(0.975, df), df, shift)


def needed(sd: float, percent: float) -> int:
    """Repeats of each of two glasses."""
    return next(n for n in range(2, 400) if power_of(sd, percent, n, n) >= 0.8)


def test_the_power_is_that_of_the_exact_test_and_the_order_that_of_the_desk(open_page, live_server):
    page = open_page()
    page.goto(f"{live_server.url}/bench/plan")
    expect(page.locator("html[data-ready=plan]")).to_be_attached()
    cases = [(sd, percent) for sd in (0.05, 0.1, 0.2) for percent in (10, 20, 50, 100)]
    plans = [["thrush", 5, 3, 1], ["1f", 2, 1, 0], ["b|c", 12, 4, None], ["x", 1, 2, None]]
    found = page.evaluate("""async ([cases, plans, few]) => {
      const folder = document.querySelector("script[src$='session/plan.js']").src.replace("session/plan.js", "");
      const { repeatsApart, leastApart } = await import(folder + "session/power.js");
      const { runsOf } = await import(folder + "plan/order.js");
      const percentOf = (apart) => 100 * (Math.exp(apart) - 1);
      return { power: cases.map(([sd, percent]) => [repeatsApart(sd, Math.log(1 + percent / 100)), percentOf(leastApart(sd, 6)), percentOf(leastApart(sd, 12, 3)), repeatsApart(sd, Math.log(1 + percent / 100), 3)]), few: few.map(([first, second]) => leastApart(0.2, first, second)), runs: await Promise.all(plans.map((plan) => runsOf(...plan))) };
    }""", [cases, plans, FEW])
    assert found["runs"] == [runs_of(*plan) for plan in plans]
    for (sd, percent), (repeats, apart, against, fixed) in zip(cases, found["power"], strict=True):
        exact = needed(sd, percent)
        assert repeats == (None if exact > 200 else exact), (sd, percent, repeats, exact)
        assert math.isclose(power_of(sd, apart, 6, 6), 0.8, abs_tol=1e-4)
        assert math.isclose(power_of(sd, against, 12, 3), 0.8, abs_tol=1e-4)
        enough = [n for n in range(1, 201) if power_of(sd, percent, n, 3) >= 0.8]
        assert fixed == (enough[0] if enough else None)
    for (first, second), apart in zip(FEW, found["few"], strict=True):
        assert math.isclose(power_of(0.2, 100 * (math.exp(apart) - 1), first, second), 0.8, abs_tol=1e-4), (first, second)


def test_the_voice_says_what_was_recorded_and_counts_only_when_it_is_wanted(browser_context, live_server):
    context = browser_context()
    context.add_init_script("""
      window.said = [];
      speechSynthesis.speak = (words) => window.said.push(words.text);
    """)
    page = context.new_page()
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    in_session(page, "#go")
    expect(page.locator("#voice")).to_have_text("Voice off")
    out_of_kiln(page)
    page.wait_for_timeout(GAP_MS)
    assert page.evaluate("() => window.said") == []
    page.locator("#take-back").click()
    page.locator("#voice").click()
    expect(page.locator("#voice")).to_have_text("Voice on")
    out_of_kiln(page)
    press(page, 0, 2)
    page.evaluate("""async () => {
      const { countAloud } = await import(document.querySelector("script[src$='trial/run.js']").src.replace("run.js", "voice.js"));
      for (const s of [3, 9.9, 10.1, 10.2, 19, 20.5, null]) countAloud(s);
    }""")
    said = page.evaluate("() => window.said")
    assert [words for words in said if not words.isdigit()] == ["Voice on", "Out of the kiln", "Into the flame", "Sagged"]
    assert [words for words in said if words.isdigit()][-2:] == ["10", "20"]


def test_a_stopped_or_left_out_dish_can_be_done_after_all_and_the_kiln_press_is_not_lost(browser_context, live_server):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    in_session(page, "#go")
    out_of_kiln(page)
    page.locator("#leave").click()
    in_session(page, "#go")
    press(page, 0, 1)
    page.locator("#take-back").click()
    page.locator("#stop").click()
    page.locator("[data-reason=missed_press]").click()
    page.locator("#to-session").click()
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    page.locator("#dishes button").first.click()
    expect(page.locator("#lead")).to_contain_text("Run 1 of 3")
    in_session(page, "#skip")
    page.locator("[data-why=broken]").click()
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    page.locator("#dishes button").first.click()
    page.locator("[data-check=weighed]").click()
    page.locator("#mass").fill("1,85")
    run_dish(page, is_checked=True)
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    masses = [e["body"]["mass_g"] for e in stored_on_tablet(page) if e["kind"] == "trial.started"]
    assert sorted(masses) == [1.85, 2]


def test_the_pedal_alone_goes_through_a_session(browser_context, live_server):
    """A pedal is a keyboard with one key. Common practice, no source."""
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    expect(page.locator("html[data-ready=session]")).to_be_attached()
    page.wait_for_timeout(GAP_MS + 100)
    page.keyboard.press("Enter")
    expect(page.locator("#press-word")).to_have_text("Out of the kiln")
    page.locator("[data-theme-switch]").click()
    page.wait_for_timeout(GAP_MS + 100)
    for number in range(6):
        page.keyboard.press("Enter")
        page.wait_for_timeout(GAP_MS)
    expect(page.locator("#summary-lead")).to_contain_text("All five")
    page.wait_for_timeout(1100)
    page.keyboard.press("Enter")
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")


def test_nothing_of_a_covered_session_leaks(tablet_context, live_server):
    """Names, times and their order: on the bench, on /sync, in the chips, at the desk, on another tablet; offline first, then sent."""
    context = tablet_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    page.goto(f"{live_server.url}/bench/plan")
    make_plan(page)
    page.locator("#make").click()
    run_dish(page)
    expect(page.locator("#lead")).to_contain_text("Run 2 of 3")
    for path in ("/bench", "/sync"):
        page.goto(f"{live_server.url}{path}")
        page.wait_for_timeout(400)
        assert not any(name in page.locator("main").inner_text() for name in GLASSES), path
    page.goto(f"{live_server.url}/bench")
    page.locator("#recent-list a").first.click()
    expect(page.locator("#times")).to_contain_text("recorded")
    assert not any(mark in page.locator("#times").inner_text() for mark in ("0.", "1.", "2."))
    context.set_offline(False)
    expect(page.locator("[data-sync-word]")).to_have_text("All sent", timeout=20_000)
    other = tablet_context().new_page()
    for path in ("/results", "/results/trials.csv", "/bench"):
        text = other.request.get(f"{live_server.url}{path}").text()
        assert not any(name in text for name in GLASSES), path
    session = next(e["subject"] for e in stored_on_tablet(page) if e["kind"] == "plan.made")
    other.goto(f"{live_server.url}/bench/session?s={session}")
    expect(other.locator("#elsewhere")).to_contain_text("planned on another tablet")
    assert not any(name in other.locator("main").inner_text() for name in GLASSES)
    other.locator("#laying summary").click()
    other.locator("#show-list").click()
    expect(other.locator("#list")).to_contain_text(GLASSES[1])
    expect(other.locator("#book")).to_contain_text("The list for laying out was opened")
