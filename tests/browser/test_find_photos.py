"""Photos: upright, small, without place or camera; kept without the desk, seen there later. Labels and their codes; the camera as a reader."""

import base64
import struct

import httpx
import pytest
from playwright.sync_api import expect

from server.store.picture import LONGEST_JPEG, is_bare
from server.settings import Settings
from tests.browser.bench_page import stored_on_tablet
from tests.browser.conftest import PHONE, TABLET
from tests.browser.find_page import act, add_piece, agree, jpeg_made_in, new_find, open_piece, ready, with_worker
from tests.finds import segment

PLACE = b"GPS-OF-THE-DIG"
TURNED = 6  # Exif orientation: the camera was held upright, the picture lies on its side


def ifd(entries: list[tuple[int, int, int, bytes]]) -> bytes:
    """A directory of TIFF fields: (tag, type, count, four bytes of value)."""
    return struct.pack(">H", len(entries)) + b"".join(struct.pack(">HHI", tag, kind, count) + value for tag, kind, count, value in entries) + b"\0\0\0\0"


def with_exif(jpeg: bytes) -> bytes:
    """The picture as a camera writes it: turned, with a place (Exif 2.3: orientation 0x0112, GPS directory 0x8825, its method 0x001b)."""
    main_length, gps_length = 2 + 2 * 12 + 4, 2 + 12 + 4
    gps_at = 8 + main_length
    main = ifd([(0x0112, 3, 1, struct.pack(">HH", TURNED, 0)), (0x8825, 4, 1, struct.pack(">I", gps_at))])
    gps = ifd([(0x001B, 7, len(PLACE), struct.pack(">I", gps_at + gps_length))])
    block = b"Exif\0\0" + b"MM\0*\0\0\0\x08" + main + gps + PLACE
    comment = b"\xff\xfe" + struct.pack(">H", 2 + len(PLACE)) + PLACE
    return jpeg[:2] + b"\xff\xe1" + struct.pack(">H", 2 + len(block)) + block + comment + jpeg[2:]


def markers(jpeg: bytes) -> list[int]:
    """Markers of the segments before the picture itself (ITU-T T.81, B.1)."""
    found, at = [], 2
    while jpeg[at + 1] != 0xDA:
        assert jpeg[at] == 0xFF
        found.append(jpeg[at + 1])
        at += 2 + int.from_bytes(jpeg[at + 2 : at + 4], "big")
    return found


def piece_page(page, url: str) -> str:
    new_find(page, url)
    add_piece(page, "Demo sherd", "3")
    return open_piece(page, "Demo sherd")


def take(page, jpeg: bytes, name: str = "dig.jpg", kind: str = "image/jpeg") -> None:
    page.locator("#photo").set_input_files({"name": name, "mimeType": kind, "buffer": jpeg})


def stored_photos(page) -> list[dict]:
    return [entry["body"] for entry in stored_on_tablet(page) if entry["kind"] == "piece.photo"]


def test_a_photo_with_its_place_goes_in_and_only_the_picture_is_kept(page, live_server):
    piece_page(page, live_server.url)
    raw = with_exif(jpeg_made_in(page, 400, 300))
    assert PLACE in raw and 0xE1 in markers(raw)
    page.get_by_label("What the next photo shows").fill("Demo, the fresh break")
    take(page, raw)
    expect(page.locator("#photo-said")).to_have_text("The photo is kept.")
    [body] = stored_photos(page)
    kept = base64.b64decode(body["jpeg"])
    assert not set(markers(kept)) & {*range(0xE1, 0xF0), 0xFE}
    assert b"Exif" not in kept and PLACE not in kept
    assert (body["width"], body["height"]) == (300, 400)  # turned upright
    expect(page.locator("#photos figcaption")).to_contain_text("Demo, the fresh break")
    # bright left half becomes the bright top after the turn by 90° clockwise
    shades = page.locator("#photos img").evaluate("""async (image) => {
      await image.decode();
      const canvas = Object.assign(document.createElement("canvas"), { width: image.naturalWidth, height: image.naturalHeight });
      const pen = canvas.getContext("2d");
      pen.drawImage(image, 0, 0);
      return [20, 380].map((y) => pen.getImageData(150, y, 1, 1).data[0]);
    }""")
    assert shades[0] > 200 and shades[1] < 60


def test_a_photo_is_taken_back_and_its_entry_stays(page, live_server):
    piece_page(page, live_server.url)
    take(page, jpeg_made_in(page, 40, 30))
    page.get_by_role("button", name="Take back: Photo of").tap()
    page.get_by_label("Why is it taken back?").fill("thumb in it")
    page.get_by_role("button", name="Take it back").tap()
    expect(page.locator("#photos img")).to_have_count(0)
    page.reload()
    ready(page)
    expect(page.locator("#photos img")).to_have_count(0)
    assert len(stored_photos(page)) == 1


def test_segments_that_describe_a_picture_are_cut_out_of_any_jpeg(page, live_server):
    page.goto(f"{live_server.url}/finds")
    jpeg = jpeg_made_in(page, 40, 30)
    colour = jpeg.index(b"\xff\xe2")  # the browser names its colours in APP2; that goes as well
    plain = jpeg[:colour] + jpeg[colour + 2 + int.from_bytes(jpeg[colour + 2 : colour + 4], "big") :]
    kept = page.evaluate("""async (text) => {
      const base = document.querySelector("script[src$='find/index.js']").src.replace("index.js", "");
      const { withoutMetadata } = await import(base + "../web/photo.js");
      const bytes = Uint8Array.from(atob(text), (one) => one.charCodeAt(0));
      return [...new Uint8Array(await withoutMetadata(bytes).arrayBuffer())];
    }""", base64.b64encode(with_exif(jpeg[:2] + segment(0xED, b"Photoshop 3.0\0" + PLACE) + segment(0xEE, b"Adobe" + PLACE) + jpeg[2:])).decode())
    assert bytes(kept) == plain and 0xE2 not in markers(plain)
    assert is_bare(plain) and not is_bare(jpeg)  # the desk is of the same mind


def test_a_large_and_noisy_photo_becomes_small_enough(page, live_server):
    piece_page(page, live_server.url)
    raw = jpeg_made_in(page, 3000, 2250, is_noisy=True)
    assert len(raw) > 2_000_000
    take(page, raw)
    expect(page.locator("#photo-said")).to_have_text("The photo is kept.")
    [body] = stored_photos(page)
    assert len(body["jpeg"]) <= LONGEST_JPEG
    assert max(body["width"], body["height"]) <= 1280 and abs(body["width"] / body["height"] - 4 / 3) < 0.01
    expect(page.locator("#sync-word")).to_have_text("All sent")


def test_a_file_that_is_no_picture_is_said_and_not_kept(page, live_server):
    piece_page(page, live_server.url)
    take(page, b"no picture at all")
    expect(page.locator("#photo-error")).to_contain_text("no picture that this tablet can read. Nothing was kept.")
    assert stored_photos(page) == []


def test_photos_taken_without_the_desk_are_seen_there_and_no_request_is_too_large(live_server, tablet_context):
    context = tablet_context(PHONE)
    page = context.new_page()
    with_worker(page, live_server.url)
    piece = piece_page(page, live_server.url)
    expect(page.locator("#sync-word")).to_have_text("All sent")
    sizes, most = [], Settings().max_body_bytes
    context.on("request", lambda request: sizes.append(len(request.post_data_buffer or b"")) if request.url.endswith("/sync/push") else None)
    context.set_offline(True)
    raw = jpeg_made_in(page, 1600, 1200, is_noisy=True)
    for count in range(1, 6):
        take(page, raw)
        expect(page.locator("#photos img")).to_have_count(count)
    page.reload()
    expect(page.locator("#photos img")).to_have_count(5)
    context.set_offline(False)
    expect(page.locator("#sync-word")).to_have_text("All sent")
    total = sum(len(body["jpeg"]) for body in stored_photos(page))
    assert total > most > max(sizes) and len(sizes) > 1
    desk = tablet_context(TABLET).new_page()
    desk.goto(f"{live_server.url}/finds/piece?p={piece}")
    expect(desk.locator("#photos img")).to_have_count(5)
    for image in desk.locator("#photos img").all():
        image.scroll_into_view_if_needed()
        desk.wait_for_function("(image) => image.complete && image.naturalWidth > 300", arg=image.element_handle())
        assert "/finds/photo/" in image.get_attribute("src")
    assert len(httpx.get(f"{live_server.url}/finds/log.json").content) < 10_000


def test_a_photo_that_the_desk_finds_too_large_does_not_hold_back_what_comes_after(live_server, browser_context):
    page = browser_context(PHONE).new_page()
    most = 100_000
    page.route("**/sync/push", lambda route: route.fulfill(status=413, body="{}") if len(route.request.post_data_buffer) > most else route.continue_())
    piece_page(page, live_server.url)
    take(page, jpeg_made_in(page, 1600, 1200, is_noisy=True))
    expect(page.locator("#sync-word")).to_have_text("1 refused")
    act(page, "Returned", "1")
    expect(page.locator("#sync-word")).to_have_text("1 refused")
    page.goto(f"{live_server.url}/sync")
    expect(page.locator("#refused-list")).to_contain_text("A photo, Demo sherd")
    expect(page.locator("#refused-list")).to_contain_text("larger than the desk takes at once")
    for _ in range(50):  # the push goes on by itself
        if any(entry["kind"] == "piece.returned" for entry in httpx.get(f"{live_server.url}/finds/log.json").json()["entries"]):
            break
        page.wait_for_timeout(200)
    assert "piece.returned" in [entry["kind"] for entry in httpx.get(f"{live_server.url}/finds/log.json").json()["entries"]]


STUB = """
  window.BarcodeDetector = class {
    static async getSupportedFormats() { return ["qr_code"]; }
    async detect(video) { return window.labelSeen && video.readyState >= 2 ? [{ rawValue: window.labelSeen }] : []; }
  };
  const canvas = document.createElement("canvas");
  canvas.getContext("2d").fillRect(0, 0, 10, 10);
  setInterval(() => canvas.getContext("2d").fillRect(0, 0, 10, 10), 50);
  Object.defineProperty(navigator, "mediaDevices", { value: { getUserMedia: async () => { if (window.noCamera) throw new Error("denied"); return (window.stream = canvas.captureStream()); } } });
"""


def test_the_camera_reads_a_label_where_the_browser_can(page, live_server):
    piece = piece_page(page, live_server.url)
    page.add_init_script(STUB)
    page.goto(f"{live_server.url}/finds")
    ready(page)
    page.get_by_role("button", name="Scan a label").tap()
    expect(page.locator("#camera")).to_be_visible()
    page.get_by_role("button", name="Stop the camera").tap()
    expect(page.locator("#camera")).to_be_hidden()
    assert page.evaluate("() => window.stream.getTracks().every((track) => track.readyState === 'ended')")
    page.evaluate("() => { window.noCamera = true; }")
    page.get_by_role("button", name="Scan a label").tap()
    expect(page.locator("#code-error")).to_have_text("The camera cannot be used here. Type the code instead.")
    page.evaluate("([url, piece]) => { window.noCamera = false; window.labelSeen = `${url}/finds/piece?p=${piece}`; }", [live_server.url, piece])
    page.get_by_role("button", name="Scan a label").tap()
    page.wait_for_url(f"**/finds/piece?p={piece}")


def test_where_the_browser_cannot_read_codes_the_button_is_not_shown(page, live_server):
    page.add_init_script("delete window.BarcodeDetector")
    piece_page(page, live_server.url)
    page.goto(f"{live_server.url}/finds")
    ready(page)
    expect(page.get_by_label("Type the code on the label")).to_be_visible()
    expect(page.locator("#scan")).to_be_hidden()


def test_the_sheet_of_labels_prints_codes_and_squares_only(page, live_server):
    find = new_find(page, live_server.url)
    agree(page)
    for label in ("Demo a", "Demo b", "Demo c"):
        add_piece(page, label)
    expect(page.locator("#sync-word")).to_have_text("All sent")
    codes = page.locator("#pieces .code").all_text_contents()
    page.get_by_role("link", name="Labels to print").tap()
    page.wait_for_url(f"**/finds/labels?find={find}")
    page.emulate_media(media="print")
    assert page.locator(":is(nav, button, .button):visible").count() == 0
    assert page.locator(".label-code:visible").all_text_contents() == codes
    for box in page.locator("svg.qr").evaluate_all("(all) => all.map((one) => one.getBoundingClientRect()).map(({ width, height }) => [width, height])"):
        assert min(box) > 96 / 25.4 * 25  # no side under 25 mm: a module is then above 0.5 mm


def test_the_desk_is_asked_again_only_while_the_page_is_looked_at(page, live_server):
    page.clock.install()
    page.goto(f"{live_server.url}/finds")
    ready(page)
    asked = []
    page.on("request", lambda request: asked.append(request.url) if request.url.endswith("/finds/log.json") else None)
    page.evaluate("() => Object.defineProperty(document, 'visibilityState', { value: 'hidden', configurable: true })")
    page.clock.run_for(30_000)
    assert asked == []
    page.evaluate("() => Object.defineProperty(document, 'visibilityState', { value: 'visible', configurable: true })")
    with page.expect_request("**/finds/log.json"):
        page.clock.run_for(6_000)
