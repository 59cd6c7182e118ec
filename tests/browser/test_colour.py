"""Colouring a glass in real Chromium: the page's sums are those of the server's rules, a series is kept and labelled, all of it without the desk; and what cannot be is said."""

import random

import numpy as np
import pytest
from playwright.sync_api import expect

from server.errors import Refused
from server.glass import catalog
from server.physics.addition import Wanted, Weighed, compounds, made_of, to_weigh, wt_u
from server.physics.change import change, unseen_wt
from server.physics.composition import OXIDES
from server.physics.report import estimate_one
from tests.browser.bench_page import stored_on_tablet, with_worker
from tests.browser.screen import audit, no_overflow, open_all, settled

SIZES = [(390, 844), (820, 1180)]
IN_PAGE = """async (cases) => {
  const base = document.querySelector("script[src$='make/colour.js']").src.replace("make/colour.js", "");
  const { Additions, CannotMake } = await import(base + "make/addition.js");
  const { change, unseenWt } = await import(base + "make/change.js");
  const { estimator } = await import(base + "glass/data.js");
  const tool = await estimator();
  const { compounds } = await (await fetch("/make/compounds.json")).json();
  const sums = new Additions(compounds, tool.composition.mass);
  return cases.map(({ wt, base_g, wanted }) => {
    let weighed;
    try { weighed = sums.toWeigh(wt, base_g, wanted); } catch (error) { if (error instanceof CannotMake) return { refused: error.message }; throw error; }
    const made = sums.made(wt, base_g, weighed);
    const [before, after] = [wt, made.wt].map((one) => tool.estimate(one));
    return { weighed: weighed.map(({ mass_g }) => mass_g), ...made, u: sums.wtU(wt, base_g, weighed, 0.01), change: change(before, after, tool.data.accuracy.pairs), unseen: ["viscosity", "expansion"].map((q) => unseenWt(before, after, q)) };
  });
}"""


def case(seed: int) -> dict:
    dice = random.Random(seed)
    glass = dice.choice([one for one in catalog.glasses().values() if one.wt.sum() > 0])
    keys = dice.sample(sorted(compounds()), dice.randrange(1, 4))
    wanted = [{"compound": key, "wt": dice.choice((0.02, 0.3, 1.0, 4.0, 20.0)), "purity": dice.choice((1.0, 0.6))} for key in keys]
    return {"wt": {name: float(x) for name, x in zip(OXIDES, glass.wt, strict=True) if x > 0}, "base_g": dice.choice((2.0, 50.0)), "wanted": wanted}


def by_the_rules(one: dict) -> dict:
    wt = np.array([one["wt"].get(name, 0.0) for name in OXIDES])
    try:
        weighed = to_weigh(wt, one["base_g"], [Wanted(**w) for w in one["wanted"]])
    except Refused as error:
        return {"refused": error.message}
    made = made_of(wt, one["base_g"], weighed)
    before, after = estimate_one(wt), estimate_one(made.wt)
    return {
        "weighed": [w.mass_g for w in weighed], "mass_g": made.mass_g, "gas_g": made.gas_g, "wt": dict(zip(OXIDES, made.wt, strict=True)),
        "u": dict(zip(OXIDES, wt_u(wt, one["base_g"], weighed, 0.01), strict=True)), "change": change(before, after), "unseen": [unseen_wt(before, after, q) for q in ("viscosity", "expansion")],
    }


def test_the_page_reckons_as_the_server_does(page, live_server):
    page.goto(f"{live_server.url}/make/colour")
    cases = [case(seed) for seed in range(120)]
    refused, estimated = 0, 0
    for one, found in zip(cases, page.evaluate(IN_PAGE, cases), strict=True):
        told = by_the_rules(one)
        if "refused" in told:
            refused += 1
            assert found["refused"].split(" wt%")[0].rstrip("0.") == told["refused"].split(" wt%")[0].rstrip("0.")
            continue
        for name in ("weighed", "mass_g", "gas_g", "unseen"):
            assert found[name] == pytest.approx(told[name], rel=1e-9, abs=1e-9), name
        for name in ("wt", "u"):
            assert found[name] == pytest.approx({key: told[name][key] for key in found[name]}, rel=1e-9, abs=1e-12)
        for part, change_of in told["change"].items():
            estimated += change_of is not None
            assert (found["change"][part] is None) == (change_of is None), part
            assert change_of is None or found["change"][part] == pytest.approx(change_of, rel=1e-6, abs=1e-6), part
    assert 10 < refused < 90 and estimated > 60


def begin(page, url: str, amounts: str, compound: str = "malachite") -> None:
    page.goto(f"{url}/make/colour?g=fre-levii-mean")
    expect(page.locator("html[data-ready=colour]")).to_be_attached()
    page.locator("[data-part=compound]").first.select_option(compound)
    page.locator("[data-part=amount]").first.fill(amounts)


def test_a_series_of_four_is_weighed_kept_and_labelled_without_the_desk(live_server, tablet_context):
    context = tablet_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    begin(page, live_server.url, "0 0.5 1 2")
    expect(page.locator("#answer .lead")).to_contain_text("4 members on 20.00 g")
    weighed = page.locator(".weigh strong").all_text_contents()
    assert weighed == ["0.00 g", "0.14 g", "0.28 g", "0.57 g"]  # by hand: 20 g x w/(1-w) x 1.3899 for 0.5, 1 and 2 % of CuO
    expect(page.locator(".weigh tbody tr").nth(2)).to_contain_text("1.00 ± 0.03")
    expect(page.locator("#answer")).to_contain_text("knows all of what was added")
    expect(page.locator("#answer")).to_contain_text("Copper: dust and fume irritate")
    page.get_by_role("button", name="Keep these 4 glasses").tap()
    expect(page.locator("#kept")).to_contain_text("All 4 are kept on this device")
    expect(page.locator(".label")).to_have_count(4)
    assert page.locator(".label-warning").all_text_contents() == ["⚠ Not for food or drink.", *["⚠ Copper. Not for food or drink."] * 3]
    bodies = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "glass.added"]
    assert len(bodies) == 4 and {b["made"]["glasses"][0]["key"] for b in bodies} == {"fre-levii-mean"}
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)
    page.goto(f"{live_server.url}/glass")
    page.get_by_role("link", name="group mean, 1 wt% CuO").click()
    expect(page.locator("main")).to_contain_text("Made of 20")
    expect(page.locator("main")).to_contain_text("Reckoned, not analysed")
    page.get_by_role("link", name="Bet Eli'ezer (Hadera) group mean", exact=True).click()
    expect(page.locator("h1")).to_contain_text("Bet Eli'ezer")


def test_what_cannot_be_made_is_said(page, live_server):
    begin(page, live_server.url, "two")
    expect(page.locator("#make-error")).to_contain_text("“two” is not an amount")
    expect(page.locator("#answer")).to_contain_text("No answer yet")
    expect(page.locator("#keep-part")).to_be_hidden()
    page.locator("[data-part=amount]").first.fill("95")
    expect(page.locator("#make-error")).to_contain_text("hardly any base glass")
    page.locator("[data-part=amount]").first.fill("0,5")
    expect(page.locator("#answer .lead")).to_contain_text("Weigh 0.14 g of basic copper carbonate into 20.00 g")
    page.locator("[data-part=compound]").first.select_option("sno2")
    page.locator("[data-part=amount]").first.fill("8")
    expect(page.locator("#answer")).to_contain_text("Much of this stays as crystals")
    page.locator("[data-part=compound]").first.select_option("malachite")
    page.locator("[data-part=amount]").first.fill("0,5")
    page.locator("[data-part=purity]").first.fill("0")
    expect(page.locator("#make-error")).to_contain_text("Purity lies above 0")
    page.locator("[data-part=purity]").first.fill("0.98")
    expect(page.locator("#make-error")).to_contain_text("write 98, not 0.98")
    page.locator("[data-part=purity]").first.fill("50")
    expect(page.locator("#answer .lead")).to_contain_text("Weigh 0.28 g")
    page.get_by_role("button", name="Add another compound").click()
    page.locator("[data-part=compound]").nth(1).select_option("cuo")
    page.locator("[data-part=amount]").nth(1).fill("1")
    expect(page.locator("#make-error")).to_contain_text("Two compounds give the same oxide")
    page.locator("[data-part=compound]").nth(1).select_option("co3o4")
    page.locator("[data-part=amount]").nth(1).fill("0.05")
    expect(page.locator("#answer")).to_contain_text("so little that the balance rounds a tenth of it away")
    page.locator("[data-part=amount]").nth(1).fill("0.01")
    expect(page.locator("#make-error")).to_contain_text("less than the balance can show")
    expect(page.locator("#keep-part")).to_be_hidden()
    page.locator("[data-part=amount]").nth(1).fill("")
    expect(page.locator("#make-error")).to_contain_text("Say how much of cobalt oxide")
    page.locator("[data-part=amount]").nth(1).fill("0.05")
    for typed, told in (("0,05,1", "“05” can be read in two ways"), ("0.5 0.501", "weighs as much as another of the series")):
        page.locator("[data-part=amount]").first.fill(typed)
        expect(page.locator("#make-error")).to_contain_text(told)
    page.locator("[data-part=amount]").first.fill("0.5")
    page.locator("#mass").fill("0.05")
    expect(page.locator("#make-error")).to_contain_text("take 0.1 g of base or more")
    page.locator("#mass").fill("1,000")
    expect(page.locator("#make-error")).to_contain_text("Write 1000 or 1.000")
    page.locator("[data-part=amount]").first.fill("1 2 1")
    expect(page.locator("#make-error")).to_contain_text("1 stands twice in the series")


@pytest.mark.parametrize(("typed", "heads"), [
    ("0.5, 1, 2", ["0.5 wt%", "1 wt%", "2 wt%"]), ("0,5, 1, 2", ["0.5 wt%", "1 wt%", "2 wt%"]), ("0.5,1,2", ["0.5 wt%", "1 wt%", "2 wt%"]),
    ("0,5; 1; 2", ["0.5 wt%", "1 wt%", "2 wt%"]), ("1,2 2", ["1.2 wt%", "2 wt%"]), (" 1, ", ["1 wt%"]),
])  # fmt: skip
def test_a_series_is_read_as_people_write_it(page, live_server, typed, heads):
    begin(page, live_server.url, typed)
    expect(page.locator(".weigh tbody tr")).to_have_count(len(heads))
    assert [one.split(" Cu")[0] for one in page.locator(".weigh tbody th").all_text_contents()] == heads


def test_a_series_from_nothing_on_a_base_that_holds_a_trace_and_the_member_that_fits_worst(page, live_server):
    begin(page, live_server.url, "0 4 1", "fe2o3")
    expect(page.locator(".weigh tbody tr").first).to_contain_text("nothing added0.00 g")
    expect(page.locator(".weigh tbody tr").nth(1)).to_contain_text("3.99 ± 0.04")  # the balance shows 0.01 g
    expect(page.locator("#fit")).to_contain_text("On its base the worst of these, 4 wt% Fe₂O₃. ")


def test_a_part_of_an_analysis_is_no_base_and_no_compound_comes_by_the_hundredweight(page, live_server):
    """The published mean lists what is not sand: 30 wt% without silica."""
    page.goto(f"{live_server.url}/make/colour?g=jac-lei-mean")
    expect(page.locator("html[data-ready=colour]")).to_be_attached()
    page.locator("[data-part=compound]").first.select_option("malachite")
    page.locator("[data-part=amount]").first.fill("1")
    expect(page.locator("#make-error")).to_contain_text("wt%, not to about 100")
    expect(page.locator("#keep-part")).to_be_hidden()
    begin(page, live_server.url, "1")
    page.locator("input[name=said][value=g]").check()
    page.locator("[data-part=amount]").first.fill("100001")
    expect(page.locator("#make-error")).to_contain_text("More than 100 kg")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_it(open_page, live_server, scheme):
    for size in SIZES:
        page = open_page(size, color_scheme=scheme)
        begin(page, live_server.url, "0.5 2")
        page.locator("#keep").click()
        expect(page.locator("#kept")).to_be_visible()
        open_all(page)
        settled(page)
        assert no_overflow(page)
        assert audit(page) == []


def test_a_store_that_refuses_half_way_keeps_no_glass_twice(page, live_server):
    begin(page, live_server.url, "0 0.5 1 2")
    page.evaluate("""() => { const whole = IDBObjectStore.prototype.add; let left = 1;
      IDBObjectStore.prototype.add = function (...given) { if (this.name === "entries" && left-- <= 0) throw new DOMException("full", "QuotaExceededError"); return whole.apply(this, given); };
      window.mend = () => { IDBObjectStore.prototype.add = whole; }; }""")
    page.locator("#keep").click()
    expect(page.locator("#keep-error")).to_contain_text("this device is full")
    page.evaluate("() => window.mend()")
    page.locator("#keep").click()
    expect(page.locator("#kept")).to_contain_text("All 4 are kept")
    kept = [e for e in stored_on_tablet(page) if e["kind"] == "glass.added"]
    assert len(kept) == 4 and len({e["subject"] for e in kept}) == 4 and len({e["body"]["name"] for e in kept}) == 4
