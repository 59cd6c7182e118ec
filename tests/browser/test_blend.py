"""Blending glasses in real Chromium: the page's sums are those of the server's rules; the mixing line, and a blend that is kept without the desk."""

import random

import numpy as np
import pytest
from playwright.sync_api import expect

from server.glass import catalog
from server.physics.addition import blended, blended_u
from server.physics.composition import OXIDES
from tests.browser.bench_page import stored_on_tablet, with_worker
from tests.browser.screen import audit, no_overflow, open_all, settled

IN_PAGE = """async (cases) => {
  const base = document.querySelector("script[src$='make/blend.js']").src.replace("make/blend.js", "");
  const { blended } = await import(base + "make/addition.js");
  return cases.map((parts) => blended(parts, 0.1));
}"""


def test_the_page_reckons_as_the_server_does(page, live_server):
    page.goto(f"{live_server.url}/make/blend")
    dice, known = random.Random(5), [glass.wt for glass in catalog.glasses().values() if glass.wt.sum() > 0]
    cases = [[(dice.choice(known), dice.choice((0.5, 7.0, 40.0))) for _ in range(dice.randrange(1, 6))] for _ in range(60)]
    asked = [[{"wt": {name: float(x) for name, x in zip(OXIDES, wt, strict=True) if x > 0}, "mass_g": grams} for wt, grams in case] for case in cases]
    for case, found in zip(cases, page.evaluate(IN_PAGE, asked), strict=True):
        wt, grams = np.array([row for row, _g in case]), np.array([g for _row, g in case])
        made, u = blended(wt, grams), blended_u(wt, grams, 0.1)
        assert found["mass_g"] == pytest.approx(made.mass_g)
        for name, told in (("wt", made.wt), ("u", u)):
            assert found[name] == pytest.approx({key: told[OXIDES.index(key)] for key in found[name]}, rel=1e-9, abs=1e-12)


def choose(page, place: int, name: str, grams: str) -> None:
    part = page.locator(".part").nth(place)
    part.get_by_role("searchbox").fill(name)
    part.locator(".offers button").first.click()
    part.locator("[data-part=mass]").fill(grams)


def test_old_and_modern_glass_are_blended_and_kept_without_the_desk(live_server, tablet_context):
    context = tablet_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    page.goto(f"{live_server.url}/make/blend?g=fre-levii-mean")
    expect(page.locator("html[data-ready=blend]")).to_be_attached()
    page.locator("[data-part=mass]").first.fill("30")
    expect(page.locator("#answer")).to_contain_text("Choose two glasses or more")
    choose(page, 1, "banias group", "10")
    expect(page.locator("#answer .lead")).to_contain_text("Softens at")
    expect(page.locator("#answer .lead")).to_contain_text("75 % Bet Eli'ezer (Hadera) group mean, 25 % Banias group mean")
    expect(page.locator("svg.mixing")).to_have_count(4)
    page.locator("[data-part=mass]").first.fill("much")
    expect(page.locator("#make-error")).to_contain_text("“much” is not a mass")
    page.locator("[data-part=mass]").first.fill("30")
    page.get_by_role("button", name="Keep this glass").tap()
    expect(page.locator("#kept")).to_contain_text("kept on this device")
    (body,) = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "glass.added"]
    assert [one["mass_g"] for one in body["made"]["glasses"]] == [30, 10] and body["made"]["compounds"] == []
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_it(open_page, live_server, scheme):
    for size in ((390, 844), (820, 1180)):
        page = open_page(size, color_scheme=scheme)
        page.goto(f"{live_server.url}/make/blend?g=fre-levii-mean")
        expect(page.locator("html[data-ready=blend]")).to_be_attached()
        page.locator("[data-part=mass]").first.fill("20")
        choose(page, 1, "container", "20")
        open_all(page)
        settled(page)
        assert no_overflow(page)
        assert audit(page) == []


def test_a_glass_that_fumes_is_told_of(page, live_server):
    lead = next(glass for glass in catalog.glasses().values() if glass.wt[OXIDES.index("PbO")] > 20 and 98 < glass.wt.sum() < 102)
    page.goto(f"{live_server.url}/make/blend?g={lead.key}")
    expect(page.locator("html[data-ready=blend]")).to_be_attached()
    page.locator("[data-part=mass]").first.fill("5")
    choose(page, 1, "banias group", "10")
    expect(page.locator("#answer .harm")).to_contain_text("fumes lead in a flame")
    expect(page.locator("#answer .harm")).to_contain_text(lead.name)


def test_a_row_that_is_half_filled_is_told_of_and_any_glass_may_be_taken_out(page, live_server):
    page.goto(f"{live_server.url}/make/blend?g=fre-levii-mean")
    expect(page.locator("html[data-ready=blend]")).to_be_attached()
    page.locator("[data-part=mass]").first.fill("30")
    choose(page, 1, "banias group", "10")
    expect(page.get_by_role("button", name="Take this glass out")).to_have_count(0)
    page.get_by_role("button", name="Add another glass").tap()
    choose(page, 2, "RG1", "5")
    page.locator("[data-part=mass]").nth(1).fill("")
    expect(page.locator("#make-error")).to_contain_text("Give the mass of Banias group mean")
    page.get_by_role("button", name="Take this glass out").nth(1).tap()
    expect(page.locator("#answer .lead")).to_contain_text("86 % Bet Eli'ezer (Hadera) group mean, 14 %")
    expect(page.get_by_role("button", name="Take this glass out")).to_have_count(0)
