"""What the times say, in a real browser: legible at both sizes and in both themes, said and kept from the page, saved as pictures, printed."""

import csv
import re

import httpx
import pytest
from playwright.sync_api import expect

from tests.browser.screen import no_overflow, open_all, settled, too_small
from tests.browser.test_access import SIZES, violations
from tests.contract.test_finding_pages import REFERENCE_S, SOFT, STIFF, UNKNOWN, UNKNOWN_S
from tests.entries import whole_trial
from tests.measured import whole
from tests.unit.session.test_queue import SESSION, made

PATHS = ["/results/findings", "/results/findings?by=corrected", "/results/compare?percent=20", "/results/compare?first=glass:demo-soft&second=glass:demo-stiff", "/results/scatter", UNKNOWN, "/results/foreseen", f"/results/report?session={SESSION}"]


@pytest.fixture
def timed_server(live_server):
    """A desk with an open session of float glass and a piece, and two glasses of no session."""
    told = [made(is_blind=False, glasses=[{"key": "modern-float", "name": "Modern float glass", "piece_id": None, "piece": None, "consent": None}, {"key": None, "name": "", "piece_id": None, "piece": "DEMO-17", "consent": True}])]
    for i, s in enumerate(REFERENCE_S):
        told += whole_trial(at_s=(600 * i, 600 * i + s, 600 * i + 8 * s, 600 * i + 8 * s + 5, 600 * i + 8 * s + 45), glass_key="modern-float", glass_name="Modern float glass", session=SESSION, run=0, code="AA")
    for s in UNKNOWN_S:
        told += whole_trial(at_s=(0, s, 8 * s, 8 * s + 5, 8 * s + 45), piece="DEMO-17", consent=True, glass_key=None, glass_name="", session=SESSION, run=1, code="BB")
    for key, times in (("demo-soft", SOFT), ("demo-stiff", STIFF)):
        for s in times:
            told += whole_trial(at_s=(0, s, 6 * s, 6 * s + 5, 6 * s + 40), glass_key=key, glass_name=f"{key} (invented)")
    answer = httpx.post(f"{live_server.url}/sync/push", json={"entries": told}).json()
    assert {v["verdict"] for v in answer["verdicts"]} == {"stored"}
    return live_server


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_is_legible_for_all_eyes_and_hands(open_page, timed_server, scheme):
    page = open_page(SIZES[scheme == "dark"], color_scheme=scheme)
    for path in PATHS:
        page.goto(f"{timed_server.url}{path}")
        settled(page)
        open_all(page)
        page.wait_for_timeout(150)
        assert (violations(page), too_small(page), no_overflow(page)) == ([], [], True), path


def test_a_margin_is_said_on_the_page_and_a_time_left_out_with_its_reason(open_page, timed_server):
    page = open_page((390, 844))
    page.goto(f"{timed_server.url}/results/findings")
    page.get_by_role("link", name="Side by side").click()
    page.locator("#first").select_option(label="demo-soft (invented)")
    page.locator("#second").select_option(label="demo-stiff (invented)")
    page.get_by_role("button", name="Set side by side").click()
    expect(page.locator("main")).to_contain_text("No margin was said for these two")
    page.locator("#margin").fill("0")
    page.locator("#set-margin").click()
    expect(page.locator("#margin-error")).to_have_text("Give per cent from 1 to 100.")
    page.locator("#margin").fill("50")
    page.locator("#set-margin").click()
    expect(page.locator("main")).to_contain_text("Margin 50 %, said at the desk", timeout=20_000)
    expect(page.locator("main")).to_contain_text("Within 50 % of each other")

    page.goto(f"{timed_server.url}/results/glass/demo-soft")
    page.locator("tbody th a").first.click()
    expect(page.locator("html[data-ready=trial]")).to_be_attached()
    page.locator("#leave-out summary").click()
    page.locator("#leave-it-out").click()
    expect(page.locator("#left-out-error")).to_have_text("Say in a few words why.")
    page.locator("#left-out-why").fill("a draught")
    page.locator("#lane").select_option("sag")
    page.locator("#leave-it-out").click()
    expect(page.locator("main")).to_contain_text("Sagged does not count. a draught", timeout=20_000)
    page.get_by_role("button", name="Let it count again").click()
    expect(page.locator("main")).not_to_contain_text("does not count", timeout=20_000)


def test_every_picture_is_saved_as_svg_and_png_and_the_report_is_printed(open_page, timed_server):
    page = open_page((820, 1180))
    for path in ("/results/findings", "/results/scatter", UNKNOWN, "/results/compare?first=glass:demo-soft&second=glass:demo-stiff"):
        page.goto(f"{timed_server.url}{path}")
        figures = page.locator("figure:has(svg.chart)")
        expect(page.get_by_role("button", name="Save as SVG")).to_have_count(figures.count())
        for kind, head in (("SVG", b"<svg"), ("PNG", b"\x89PNG")):
            with page.expect_download() as waiting:
                page.get_by_role("button", name=f"Save as {kind}").first.click()
            with open(waiting.value.path(), "rb") as file:
                assert file.read(20).startswith(head), path
        if path == "/results/findings":
            continue  # its table is a link
        with page.expect_download() as waiting:
            page.get_by_role("button", name="Save the data (CSV)").first.click()
        with open(waiting.value.path(), encoding="utf-8") as file:
            table = list(csv.reader(file))
        assert len(table) > 1 and len({len(row) for row in table}) == 1, path
    page.goto(f"{timed_server.url}/results/report?session={SESSION}")
    settled(page)
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) <= 6
    page.emulate_media(media="print")
    expect(page.locator("form").first).to_be_hidden()
    for heading in ("Methods", "Times", "Against the reference", "The torch", "Sources", "Cautions"):
        expect(page.get_by_role("heading", name=heading, exact=True)).to_be_visible()


def test_the_picture_of_a_measured_test_is_saved_too_with_its_data(open_page, live_server):
    told = whole("thread")
    assert {v["verdict"] for v in httpx.post(f"{live_server.url}/sync/push", json={"entries": told}).json()["verdicts"]} == {"stored"}
    page = open_page((390, 844))
    page.goto(f"{live_server.url}/results/measure/{told[0]['subject']}")
    for words, head in (("Save as SVG", b"<svg"), ("Save as PNG", b"\x89PNG"), ("Save the data (CSV)", b"what,unit,best")):
        with page.expect_download() as waiting:
            page.get_by_role("button", name=words).click()
        with open(waiting.value.path(), "rb") as file:
            assert file.read(20).startswith(head)
    assert (violations(page), too_small(page), no_overflow(page)) == ([], [], True)
