"""A replica batch in real Chromium: from the glass to be copied to weights, what is lacking said, kept as a glass; with the desk gone the choice stays."""

import pytest
from playwright.sync_api import expect

from tests.browser.bench_page import stored_on_tablet, with_worker
from tests.browser.screen import audit, no_overflow, open_all, settled


def begin(page, url: str) -> None:
    page.goto(f"{url}/make/batch?g=fre-levii-mean")
    expect(page.locator("html[data-ready=batch]")).to_be_attached()


def row(page, name: str):
    return page.locator(".material", has=page.locator(f"span:text-is('{name}')"))


def test_a_natron_glass_from_the_shelf(page, live_server):
    begin(page, live_server.url)
    expect(page.locator("#answer .lead")).to_contain_text("g of batch for 500 g of glass like Bet Eli'ezer")
    sand = page.locator(".weigh tbody tr", has_text="Quartz sand, pure").locator("strong")
    before = float(sand.text_content())
    assert 360 < before < 385  # by hand: 500 g x 74.9 % SiO2 / 99.6 %, less what nothing else brings
    expect(page.locator("#lacking")).to_contain_text("Cl: 0.6 wt% too little; no chosen material brings it")
    row(page, "Aluminium hydroxide").get_by_role("checkbox").uncheck()
    expect(page.locator("#lacking")).to_contain_text("Al₂O₃")
    soda = row(page, "Soda ash, dry")
    soda.locator("summary").click()
    soda.get_by_label("At most").fill("20")
    expect(page.locator("#lacking")).to_contain_text("Na₂O")
    expect(page.locator(".weigh tbody tr", has_text="Soda ash").locator("strong")).to_have_text("20.0")
    soda.get_by_label("Analysis as weighed").fill("soda, mostly")
    expect(page.locator("#make-error")).to_contain_text("The analysis of Soda ash, dry cannot be read")
    soda.get_by_label("Analysis as weighed").fill("Unobtainium 3")
    expect(page.locator("#make-error")).to_contain_text("Unobtainium is not an oxide that Isokom knows")
    soda.get_by_label("Analysis as weighed").fill("Na2O 58,4")
    soda.get_by_label("At most").fill("")
    expect(page.locator("#answer .lead")).to_contain_text("g of batch for 500 g")
    page.get_by_role("button", name="Keep the replica as a glass").click()
    expect(page.locator("#kept")).to_contain_text("kept on this device")
    (body,) = [e["body"] for e in stored_on_tablet(page) if e["kind"] == "glass.added"]
    assert body["name"].startswith("Replica of Bet Eli'ezer") and body["source"].startswith("Made here after")
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)


def test_without_the_desk_the_choice_stays(live_server, browser_context):
    context = browser_context()
    page = context.new_page()
    with_worker(page, live_server.url)
    context.set_offline(True)
    begin(page, live_server.url)
    expect(page.locator("#answer")).to_contain_text("sought at the desk, and the desk does not answer")
    expect(page.locator("#pick-target")).to_have_value("Bet Eli'ezer (Hadera) group mean")
    context.set_offline(False)
    page.locator("#mass").fill("100")
    expect(page.locator("#answer .lead")).to_contain_text("for 100 g of glass", timeout=20_000)


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everybody_can_use_it(open_page, live_server, scheme):
    for size in ((390, 844), (820, 1180)):
        page = open_page(size, color_scheme=scheme)
        begin(page, live_server.url)
        open_all(page)
        settled(page)
        assert no_overflow(page)
        assert audit(page) == []
