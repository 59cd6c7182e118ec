"""A tablet at its secure address: it learns the way, joins by a code, works without any network, is turned away and comes back, and loses nothing."""

import re
import socket
import ssl
import threading
from contextlib import contextmanager, suppress
from datetime import UTC, datetime, timedelta

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID
from playwright.sync_api import expect

from tests.browser.bench_page import press, stored_at_desk, stored_on_tablet, to_the_flame, with_worker
from tests.browser.conftest import PHONE
from tests.browser.screen import audit, no_overflow, open_all, settled
from tests.faults.test_lan import Lan
from tests.processes import isokom


def code_at(desk: Lan, role: str = "bench") -> str:
    """As the desk shows it."""
    text = httpx.post(f"http://127.0.0.1:{desk.port}/devices/invite", content=f"role={role}", headers={"content-type": "application/x-www-form-urlencoded"}).text
    return re.search(r'class="join-code">([^<]+)<', text)[1]


def join(page, desk: Lan, role: str) -> None:
    """At the tablets' door, with a code that the desk shows."""
    page.goto(f"https://isokom-demo.local:{desk.lan_port}/join")
    page.locator("#code").fill(code_at(desk, role))
    page.get_by_role("button", name="Join", exact=True).click()
    page.wait_for_url("**/glass" if role == "guest" else "**/device")


def test_a_tablet_joins_works_offline_is_turned_away_and_comes_back(desk, trusting):
    url = f"https://isokom-demo.local:{desk.lan_port}"
    context = trusting(desk)
    page = context.new_page()
    page.goto(f"{url}/results")
    expect(page.locator("main")).to_contain_text("does not know this device yet")
    page.goto(re.search(r"Link: (\S+)", isokom("invite", "--database", desk.database).stdout)[1])
    expect(page.locator("html[data-ready=join]")).to_be_attached()
    assert "#" not in page.url and len(page.locator("#code").input_value()) == 11
    page.get_by_role("button", name="Join", exact=True).click()
    page.wait_for_url("**/device")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    assert page.evaluate("() => document.cookie") == ""
    context.set_offline(True)
    to_the_flame(page, url)
    press(page, 0, 2)
    context.set_offline(False)
    expect(page.locator("[data-sync-word]")).to_have_text("All sent")
    (pass_id,) = set(re.findall(r"/devices/([0-9a-f-]{36})/revoke", httpx.get(f"http://127.0.0.1:{desk.port}/devices").text))
    httpx.post(f"http://127.0.0.1:{desk.port}/devices/{pass_id}/revoke")
    press(page, 2, 2)
    expect(page.locator("[data-sync-word]")).to_have_text("Not joined · 2 kept here")
    page.goto(f"{url}/sync")
    expect(page.locator("#locked")).to_contain_text("Nothing is lost")
    assert [e["state"] for e in stored_on_tablet(page)] == ["sent", "sent", "waiting", "waiting"]
    page.locator("#locked").get_by_role("link", name="Join the desk").click()
    expect(page.locator("#waits")).to_contain_text("2 entries wait")
    page.locator("#code").fill(code_at(desk).lower())
    page.get_by_role("button", name="Join", exact=True).click()
    page.wait_for_url("**/device")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(stored_at_desk(desk.database)) == 4


def test_a_bench_that_became_a_guest_is_told_that_nothing_is_sent_and_how_to_change_that(desk, trusting):
    url = f"https://isokom-demo.local:{desk.lan_port}"
    context = trusting(desk)
    page = context.new_page()

    join(page, desk, "bench")
    with_worker(page, url)
    context.set_offline(True)
    to_the_flame(page, url)
    press(page, 0, 1)
    (pass_id,) = set(re.findall(r"/devices/([0-9a-f-]{36})/revoke", httpx.get(f"http://127.0.0.1:{desk.port}/devices").text))
    httpx.post(f"http://127.0.0.1:{desk.port}/devices/{pass_id}/revoke")
    context.set_offline(False)
    join(page, desk, "guest")
    expect(page.locator("#sync-word")).to_have_text("Guest · 1 kept here")
    page.goto(f"{url}/bench")
    expect(page.locator("#desk-trouble")).to_contain_text("guest of the desk")
    page.goto(f"{url}/sync")
    expect(page.locator("#guest")).to_contain_text("What was recorded stays here")
    expect(page.locator("#locked")).to_be_hidden()
    assert audit(page) == [] and no_overflow(page)
    page.locator("#guest").get_by_role("link", name="Join for the bench").click()
    join(page, desk, "bench")
    expect(page.locator("#sync-word")).to_have_text("All sent")
    assert len(stored_at_desk(desk.database)) == 1


def test_a_guest_reads_glasses_without_a_network_and_nothing_that_it_read_as_more_is_left(desk, trusting):
    url = f"https://isokom-demo.local:{desk.lan_port}"
    context = trusting(desk)
    page = context.new_page()

    kept = """async () => (await Promise.all((await caches.keys()).map(async (name) => (await (await caches.open(name)).keys()).map(({ url }) => new URL(url).pathname)))).flat()"""
    join(page, desk, "bench")
    with_worker(page, url)
    assert {"/bench", "/finds", "/results"} <= set(page.evaluate(kept))
    join(page, desk, "guest")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    page.wait_for_function("() => navigator.serviceWorker.controller !== null")
    assert set(page.evaluate(kept)).isdisjoint({"/bench", "/bench/new", "/finds", "/results"})
    context.set_offline(True)
    page.goto(f"{url}/glass")
    expect(page.get_by_role("link", name=re.compile("SRM 620")).first).to_be_visible()
    page.goto(f"{url}/finds")
    expect(page.locator("h1")).to_have_text("Not kept on this device")


def test_a_wrong_code_is_said_and_the_page_that_explains_trust_knows_whether_it_is_there(desk, trusting, open_page):
    page = trusting(desk).new_page()
    page.goto(f"https://isokom-demo.local:{desk.lan_port}/join")
    page.locator("#code").fill("00000 00000")
    page.get_by_role("button", name="Join", exact=True).click()
    expect(page.locator("#join-error")).to_contain_text("not, or no longer, good")
    page.goto(f"http://127.0.0.1:{desk.help_port}/")
    expect(page.locator("#trusted")).to_be_visible()
    stranger = open_page()
    stranger.goto(f"http://127.0.0.1:{desk.help_port}/")
    expect(stranger.locator("#not-yet")).to_be_visible()
    expect(stranger.locator("#trusted")).to_be_hidden()
    assert stranger.locator("details.device[open]").count() == 1


def test_the_pages_can_be_used_by_everybody(desk, open_page):
    at_desk, helping = f"http://127.0.0.1:{desk.port}", f"http://127.0.0.1:{desk.help_port}/"
    code_at(desk)
    for size in ((390, 844), (820, 1180)):
        page = open_page(size)
        for address in (*(f"{at_desk}{path}" for path in ("/connect", "/devices", "/join", "/exchange", "/sync")), helping):
            page.goto(address)
            open_all(page)
            settled(page)
            assert no_overflow(page), address
            assert audit(page) == [], address


def test_an_answer_to_a_form_is_not_asked_for_again_when_the_page_is_loaded_anew(live_server, page):
    page.goto(f"{live_server.url}/devices")
    page.get_by_role("button", name="Show a code").click()
    expect(page.locator(".join-code")).to_be_visible()
    assert page.url == f"{live_server.url}/devices"
    assert audit(page) == [] and no_overflow(page)
    page.reload()
    expect(page.locator(".join-code")).to_have_count(0)
    expect(page.locator("h1")).to_have_text("Devices")


IPAD = "Mozilla/5.0 (iPad; CPU OS 18_4 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.4 Mobile/15E148 Safari/604.1"


@pytest.mark.parametrize("standalone", [False, True])
def test_an_ipad_is_asked_to_begin_from_its_home_screen(live_server, browser_context, standalone):
    """navigator.standalone is how Safari tells a page that was opened from the home screen (its developers' documentation; from memory)."""
    context = browser_context(PHONE, user_agent=IPAD)
    context.add_init_script(f"Object.defineProperty(navigator, 'standalone', {{ value: {str(standalone).lower()} }})")
    page = context.new_page()
    page.goto(f"{live_server.url}/join")
    expect(page.locator("html[data-ready=join]")).to_be_attached()
    expect(page.locator("#from-home")).to_be_visible(visible=not standalone)
    assert page.locator("#device-name").input_value() == "iPad"


def expired(folder) -> tuple[str, str]:
    """(certificate, key) as PEM files: the desk's name, ended yesterday, signed by nobody that the browser knows."""
    key, now = ec.generate_private_key(ec.SECP256R1()), datetime.now(UTC)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "isokom-demo.local")])
    made = x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key()).serial_number(x509.random_serial_number())
    made = made.not_valid_before(now - timedelta(days=398)).not_valid_after(now - timedelta(days=1)).add_extension(x509.SubjectAlternativeName([x509.DNSName("isokom-demo.local")]), critical=False)
    files = folder / "expired.pem", folder / "expired.key"
    files[0].write_bytes(made.sign(key, hashes.SHA256()).public_bytes(Encoding.PEM))
    files[1].write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return tuple(map(str, files))


@contextmanager
def shown(port: int, files: tuple[str, str]):
    """A door that shows this certificate; yields a list of how each greeting ended."""
    context, told, is_over = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER), [], threading.Event()
    context.load_cert_chain(*files)

    def greet(listener: socket.socket) -> None:
        while not is_over.is_set():
            with suppress(OSError), listener.accept()[0] as plain:
                plain.settimeout(5)
                try:
                    context.wrap_socket(plain, server_side=True).recv(1)
                    told.append("believed")
                except ssl.SSLError as error:
                    told.append(error.reason)

    with socket.create_server(("127.0.0.1", port)) as listener:
        listener.settimeout(0.2)
        thread = threading.Thread(target=greet, args=(listener,), daemon=True)
        thread.start()
        yield told
        is_over.set()
        thread.join()


def test_a_certificate_that_has_ended_keeps_nobody_from_working(tmp_path, trusting):
    """The desk's certificate has ended, say after a winter in a box: what is installed opens and records all the same, says that the desk is not reached, and sends everything once the desk was started anew."""
    lan = Lan(tmp_path)
    url = f"https://isokom-demo.local:{lan.lan_port}"
    with lan.served():
        page = trusting(lan).new_page()
        page.goto(f"{url}/join")
        page.locator("#code").fill(code_at(lan))
        page.get_by_role("button", name="Join", exact=True).click()
        page.wait_for_url("**/device")
        with_worker(page, url)
    with shown(lan.lan_port, expired(tmp_path)) as told:
        to_the_flame(page, url)
        press(page, 0, 2)
        expect(page.locator("[data-sync-word]")).to_have_text("Desk not reachable · 2 kept here")
    assert told and "believed" not in told
    with lan.served():
        press(page, 2, 3)
        expect(page.locator("[data-sync-word]")).to_have_text("All sent", timeout=30_000)
    assert len(stored_at_desk(lan.database)) == 5
