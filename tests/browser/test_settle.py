"""Two tablets that are out of reach of each other say different things about one find and its piece; at the desk a person decides, and both tablets hear of it."""

from playwright.sync_api import Page, expect

from tests import finds as f
from tests.browser.find_page import add_piece, agree, new_find, open_piece, ready, with_worker
from tests.browser.screen import audit, no_overflow
from tests.entries import WALL_0, entry, whole_trial
from tests.unit.session.test_queue import SESSION, made


def sent(page: Page) -> None:
    expect(page.locator("#sync-word")).to_have_attribute("data-state", "sent", timeout=30_000)


def refuse(page: Page) -> None:
    page.locator("#consent-act").tap()
    page.get_by_role("radio", name="Refused").check()
    page.get_by_label("Who refused").fill("Demo museum")
    page.get_by_role("button", name="Keep this answer").tap()
    expect(page.locator("#consent-said")).to_contain_text("Demo museum refused")


def recolour(page: Page, colour: str) -> None:
    page.locator("#change").tap()
    page.get_by_label("Colour").fill(colour)
    page.get_by_role("button", name="Keep the change").tap()
    expect(page.locator("#facts")).to_contain_text(colour)


def choose(page: Page, matter: str, words: str) -> None:
    section = page.locator(".difference", has_text=matter)
    section.locator(".side", has_text=words).get_by_role("button", name="This one counts").tap()
    expect(page.locator(".difference", has_text=matter)).to_have_count(0, timeout=30_000)


def test_two_tablets_apart_and_a_person_who_decides(live_server, tablet_context):
    one, other = (tablet_context({"width": 820, "height": 1180}).new_page(), tablet_context().new_page())
    with_worker(one, live_server.url)
    find = new_find(one, live_server.url)
    add_piece(one, "Demo sherd", "10")
    sent(one)
    with_worker(other, live_server.url)
    addresses = [f"{live_server.url}/finds/find?f={find}"]
    for page in (one, other):
        page.goto(addresses[0])
        ready(page)
    piece = open_piece(other, "Demo sherd")
    addresses.append(f"{live_server.url}/finds/piece?p={piece}")
    for page, said in ((one, lambda: agree(one, limit="4")), (other, lambda: refuse(other))):
        page.goto(addresses[0])
        ready(page)
        page.context.set_offline(True)
        said()
        page.goto(addresses[1])
        ready(page)
    recolour(one, "green")
    recolour(other, "blue")
    for page in (one, other):
        page.context.set_offline(False)
        page.reload()
        ready(page)
        sent(page)
    one.goto(addresses[0])
    ready(one)
    expect(one.locator("#unsettled")).to_contain_text("only what both allow counts", timeout=30_000)
    expect(one.locator("#consent-said")).to_contain_text("Demo museum refused")
    one.get_by_role("link", name="Look at both").click()
    expect(one.locator("html[data-ready=differences]")).to_be_attached()
    expect(one.locator(".lead")).to_contain_text("2 things were said differently")
    assert one.locator(".for-now").count() == 1  # of the facts; of two consents none counts alone
    assert audit(one) == [] and no_overflow(one)
    choose(one, "consent", "4 g")
    choose(one, "facts of the piece", "green")
    expect(one.locator(".lead")).to_contain_text("Nothing was said differently")
    other.goto(addresses[1])
    ready(other)
    expect(other.locator("#facts")).to_contain_text("green", timeout=30_000)
    expect(other.locator("#unsettled")).to_be_hidden()
    recolour(other, "bluish green")  # knows of the decision, so it is no difference
    sent(other)
    one.reload()
    expect(one.locator("html[data-ready=differences]")).to_be_attached()
    expect(one.locator(".lead")).to_contain_text("Nothing was said differently")


def test_a_time_that_counts_here_and_not_there(live_server, page):
    """Another desk let it count, without having heard of this one: the trial’s page asks."""
    trial = whole_trial()
    address = f"{live_server.url}/results/trial/{trial[0]['subject']}"
    assert page.request.post(f"{live_server.url}/sync/push", data={"entries": trial}).ok
    page.goto(address)
    page.get_by_text("A time that should not count").click()
    page.get_by_label("Which").select_option("sag")
    page.get_by_label("Why").fill("Demo draught")
    page.get_by_role("button", name="Leave it out").click()
    expect(page.locator("main")).to_contain_text("Sagged does not count.", timeout=30_000)
    away = {"id": f.added(f.subject(), f.subject())["id"], "kind": "trial.taken_in", "subject": trial[0]["subject"], "n": 90, "device": f.OTHER_DEVICE, "at_ms": 5, "body": {"lane": "sag", "over": []}}
    check = {"key": "home", "label": "Home screen", "result": "good", "words": "Demo.", "figure": None, "unit": ""}
    tried = entry("device.tested", f.OTHER_DEVICE, 0, {"name": "Demo tablet two", "agent": "Demo", "checks": [check]}, 5, f.OTHER_DEVICE)
    told = page.request.post(f"{live_server.url}/sync/push", data={"entries": [away, tried]}).json()
    assert {one["verdict"] for one in told["verdicts"]} == {"stored"}
    page.reload()
    page.get_by_role("link", name="Look at both").click()
    expect(page.locator("html[data-ready=differences]")).to_be_attached()
    expect(page.locator(".side", has_text="counts for now")).to_contain_text("Demo draught")
    expect(page.locator(".side", has_text="The time counts")).to_contain_text(f"on Demo tablet two (…{f.OTHER_DEVICE[-4:]})")
    page.context.route("**/sync/push", lambda route: route.abort())
    for again in (False, True):  # also after the page was opened anew, while the desk has not heard
        section = page.locator(".difference", has_text="Whether this time counts")
        if not again:
            section.locator(".side", has_text="The time counts").get_by_role("button", name="This one counts").tap()
        expect(section.locator(".settled")).to_contain_text("It is written down here")
        expect(section.get_by_role("button", name="This one counts")).to_have_count(2)
        assert section.get_by_role("button", name="This one counts", disabled=True).count() == 2
        if not again:
            page.reload()
            expect(page.locator("html[data-ready=differences]")).to_be_attached()
    page.context.unroute("**/sync/push")
    page.evaluate("() => window.dispatchEvent(new Event('online'))")
    expect(page.locator(".difference", has_text="Whether this time counts")).to_have_count(0, timeout=30_000)
    page.goto(address)
    expect(page.locator("html[data-ready=trial]")).to_be_attached()
    expect(page.locator("main")).not_to_contain_text("does not count")


def test_a_dish_and_a_margin_that_two_machines_say_differently(live_server, page):
    """Two other machines, which had not heard of each other: the page of the session and of the two glasses say so, and lead to where it is settled."""
    glasses = [{"first": "glass:demo-rubin", "second": "glass:demo-opal", "lane": "sag", "percent": percent, "over": []} for percent in (10, 25)]
    plan = made(is_blind=False)
    code = plan["body"]["runs"][1]["code"]
    times = [whole_trial(at_s=(0, s, 60, 65, 90), glass_key=key, glass_name=key) for key in ("demo-rubin", "demo-opal") for s in (12.0, 12.5)]
    told = [
        plan, *(one for trial in times for one in trial),
        entry("plan.skipped", SESSION, 1, {"run": 1, "why": "Demo crack", "over": []}, WALL_0 + 5), entry("plan.done", SESSION, 1, {"run": 1, "why": "", "over": []}, WALL_0 + 6, f.OTHER_DEVICE),
        *(entry("finding.margin", f.subject(), 1, body, WALL_0 + 5, device) for body, device in zip(glasses, (f.DEVICE, f.OTHER_DEVICE), strict=True)),
    ]
    answer = page.request.post(f"{live_server.url}/sync/push", data={"entries": told}).json()
    assert {one["verdict"] for one in answer["verdicts"]} == {"stored"}
    beside = f"{live_server.url}/results/compare?first=glass:demo-rubin&second=glass:demo-opal&lane=sag"
    page.goto(beside)
    expect(page.locator("main")).to_contain_text("Different margins were said")
    page.goto(f"{live_server.url}/bench/session?s={SESSION}")
    expect(page.locator("#unsettled")).to_contain_text(f"Of dish {code} different things were said")
    page.get_by_role("link", name="Look at both").click()
    expect(page.locator("html[data-ready=differences]")).to_be_attached()
    assert audit(page) == [] and no_overflow(page)
    choose(page, f"Dish {code}", "Demo crack")
    choose(page, "Alike within", "10 %")
    page.goto(beside)
    expect(page.locator("main")).to_contain_text("Margin 10 %")
    expect(page.locator("main")).not_to_contain_text("Different margins")
    page.goto(f"{live_server.url}/bench/session?s={SESSION}")
    expect(page.locator("#dishes")).to_contain_text("left out: Demo crack")
    expect(page.locator("#unsettled")).to_be_hidden()
