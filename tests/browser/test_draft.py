"""A form of making in real Chromium: what was typed outlives a reload and Back, and what was kept is not kept again."""

from playwright.sync_api import Page, expect

from tests.browser.bench_page import stored_on_tablet

BASE = "fre-levii-mean"


def opened(page: Page, url: str, name: str) -> None:
    page.goto(f"{url}/make/{name}?g={BASE}")
    expect(page.locator(f"html[data-ready={name}]")).to_be_attached()


def again(page: Page, name: str) -> None:
    page.reload()
    expect(page.locator(f"html[data-ready={name}]")).to_be_attached()


def made(page: Page) -> list[dict]:
    return [entry for entry in stored_on_tablet(page) if entry["kind"] == "glass.added"]


def test_colours_outlive_a_reload_and_are_kept_once(page, live_server):
    opened(page, live_server.url, "colour")
    expect(page.get_by_role("button", name="Empty the form")).to_be_hidden()
    page.locator("[data-part=compound]").first.select_option("malachite")
    page.locator("[data-part=amount]").first.fill("0.5 1")
    page.get_by_role("button", name="Add another compound").click()
    page.locator("[data-part=compound]").nth(1).select_option("co3o4")
    page.locator("[data-part=amount]").nth(1).fill("0.2")
    told = page.locator(".weigh").text_content()
    again(page, "colour")
    assert page.locator(".weigh").text_content() == told
    expect(page.locator("[data-part=compound]").nth(1)).to_have_value("co3o4")
    page.get_by_role("button", name="Keep these 2 glasses").tap()
    expect(page.locator("#kept")).to_contain_text("All 2 are kept")
    again(page, "colour")
    expect(page.locator("#kept")).to_contain_text("All 2 are kept")
    expect(page.get_by_role("button", name="Keep these 2 glasses")).to_be_disabled()
    assert page.locator(".label-name").all_text_contents() == [entry["body"]["name"] for entry in made(page)]
    page.get_by_role("button", name="Add another compound").click()
    page.locator("[data-part=amount]").first.fill("0.5, 1 ")
    again(page, "colour")
    expect(page.get_by_role("button", name="Keep these 2 glasses")).to_be_disabled()  # the same, typed otherwise
    page.locator("[data-part=amount]").nth(1).fill("0.3")
    expect(page.locator("#kept")).to_be_hidden()
    page.get_by_role("button", name="Keep these 2 glasses").tap()
    expect(page.locator("#kept")).to_contain_text("All 2 are kept")
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)
    assert len(page.request.get(f"{live_server.url}/glass/own.json").json()) == 4
    page.locator("[data-part=amount]").nth(1).fill("0.2")
    expect(page.get_by_role("button", name="Keep these 2 glasses")).to_be_disabled()  # these are kept already
    page.get_by_role("button", name="Empty the form").tap()
    expect(page.locator("html[data-ready=colour]")).to_be_attached()
    expect(page.locator("[data-part=compound]")).to_have_count(1)
    expect(page.locator("[data-part=amount]").first).to_have_value("")
    expect(page.get_by_role("searchbox")).to_have_value("Bet Eli'ezer (Hadera) group mean")


def test_a_blend_outlives_back(page, live_server):
    opened(page, live_server.url, "blend")
    page.locator("[data-part=mass]").first.fill("30")
    page.get_by_role("button", name="Add another glass").tap()
    part = page.locator(".part").nth(2)
    part.get_by_role("searchbox").fill("banias group")
    part.locator(".offers button").first.click()
    part.locator("[data-part=mass]").fill("10")
    lead = page.locator("#answer .lead").text_content()
    page.goto(f"{live_server.url}/glass")
    page.go_back()
    expect(page.locator("html[data-ready=blend]")).to_be_attached()
    expect(page.locator("#answer .lead")).to_have_text(lead)
    expect(page.locator(".part").nth(2).get_by_role("searchbox")).to_have_value("Banias group mean")


def test_a_replica_s_materials_outlive_a_reload(page, live_server):
    opened(page, live_server.url, "batch")
    page.locator("#mass").fill("250")
    page.locator(".material[data-key=limestone] [data-part=on]").uncheck()
    told = page.locator("#answer .lead").text_content()
    again(page, "batch")
    expect(page.locator(".material[data-key=limestone] [data-part=on]")).not_to_be_checked()
    expect(page.locator("#mass")).to_have_value("250")
    expect(page.locator("#answer .lead")).to_have_text(told)
    page.get_by_role("button", name="Keep the replica as a glass").tap()
    expect(page.locator("#kept")).to_contain_text("kept on this device")
    again(page, "batch")
    expect(page.get_by_role("button", name="Keep the replica as a glass")).to_be_disabled()
    assert len(made(page)) == 1


def test_a_kiln_programme_outlives_a_reload_and_is_logged_once(page, live_server):
    opened(page, live_server.url, "kiln")
    page.get_by_role("radio", name="Rod").check()
    page.locator("#size").fill("31")
    told = page.locator("#answer .lead").text_content()
    again(page, "kiln")
    expect(page.get_by_role("radio", name="Rod")).to_be_checked()
    expect(page.locator("#answer .lead")).to_have_text(told)
    page.locator("#fire").evaluate("(button) => { button.click(); button.click(); }")
    expect(page.locator("html[data-ready=firing]")).to_be_attached()
    page.go_back()
    expect(page.locator("html[data-ready=kiln]")).to_be_attached()
    expect(page.locator("#firing-list li")).to_have_count(1)
    expect(page.locator("#size")).to_have_value("31")
    expect(page.locator("#fire")).to_be_enabled()


def test_what_is_being_kept_is_kept_whatever_is_typed_meanwhile(page, live_server):
    opened(page, live_server.url, "colour")
    page.locator("[data-part=compound]").first.select_option("malachite")
    page.locator("[data-part=amount]").first.fill("0.5 1 1.5 2")
    page.evaluate("""() => {
      document.querySelector("#keep").click();
      const field = document.querySelector("[data-part=amount]");
      field.value = "3 4";
      field.dispatchEvent(new Event("input", { bubbles: true }));
    }""")
    expect(page.get_by_role("button", name="Keep these 2 glasses")).to_be_enabled()
    page.get_by_role("button", name="Keep these 2 glasses").tap()
    expect(page.locator("#kept")).to_be_visible()
    expect(page.locator("#kept")).to_contain_text("All 2 are kept")
    expect(page.locator("#sync-word")).to_have_text("All sent", timeout=30_000)
    kept = {glass["name"].rsplit(", ", 1)[1] for glass in page.request.get(f"{live_server.url}/glass/own.json").json()}
    assert kept == {f"{wt} wt% CuO" for wt in ("0.5", "1", "1.5", "2", "3", "4")}
