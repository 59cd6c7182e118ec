"""A real Chromium on a phone's or tablet's screen, with nothing left over from another test."""

import base64
import hashlib
import shutil
from contextlib import contextmanager

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from playwright.sync_api import expect, sync_playwright

from tests.faults.test_lan import Lan

ARGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"]
CHROMIUM = next(path for name in ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome") if (path := shutil.which(name)))
expect.set_options(timeout=20_000)  # on a busy machine nothing is late before that
PHONE, TABLET = {"width": 390, "height": 844}, {"width": 820, "height": 1180}


@pytest.fixture(scope="package")
def playwright():
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="package")
def chromium(playwright):
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
    yield browser
    browser.close()


@contextmanager
def contexts(chromium, service_workers: str):
    """A function that opens fresh contexts; errors in their pages fail the test."""
    opened, errors = [], []

    def open_context(viewport=PHONE, **options):
        context = chromium.new_context(viewport=viewport, has_touch=True, **{"service_workers": service_workers, **options})
        context.on("weberror", lambda error: errors.append(f"{error.error} {error.error.stack} {error.page.url}"))
        context.set_default_timeout(15_000)
        opened.append(context)
        return context

    yield open_context
    for context in opened:
        context.close()
    assert errors == []


@pytest.fixture
def browser_context(chromium):
    """Call for a fresh context without the worker, whose setting up costs more than most tests."""
    with contexts(chromium, "block") as open_context:
        yield open_context


@pytest.fixture
def tablet_context(chromium):
    """Call for a fresh context as a real tablet's, which goes on without the desk once its worker is set up."""
    with contexts(chromium, "allow") as open_context:
        yield open_context


@pytest.fixture
def open_page(browser_context):
    """Call with (width, height) for a page in a fresh context without the worker."""

    def open_at(size=(390, 844), **options):
        return browser_context({"width": size[0], "height": size[1]}, **options).new_page()

    return open_at


@pytest.fixture
def page(open_page):
    """A page on a phone's screen."""
    return open_page()


@pytest.fixture
def tablet(tablet_context):
    """A page on a phone's screen that sets up its worker, as a real one does."""
    return tablet_context().new_page()


@pytest.fixture
def persistent(playwright, tmp_path):
    """Call for a browser of its own whose folder stays, so that it can be killed and opened again."""
    opened = []

    def open_browser(viewport=PHONE):
        context = playwright.chromium.launch_persistent_context(str(tmp_path / "profile"), executable_path=CHROMIUM, args=ARGS, viewport=viewport, has_touch=True)
        context.set_default_timeout(15_000)
        opened.append(context)
        return context

    yield open_browser
    for context in opened:
        context.close()


@pytest.fixture
def desk(tmp_path):
    """A desk that also serves tablets."""
    lan = Lan(tmp_path)
    with lan.served():
        yield lan


@pytest.fixture
def trusting(playwright):
    """Call with a desk for a browser that trusts its certificate, as a tablet does after the steps of the help page, and finds its name, as with mDNS."""
    opened = []

    def launch(desk: Lan, **options):
        leaf = x509.load_der_x509_certificate(desk.certificate())
        spki = hashlib.sha256(leaf.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).digest()
        args = [*ARGS, f"--ignore-certificate-errors-spki-list={base64.b64encode(spki).decode()}", "--host-resolver-rules=MAP isokom-demo.local 127.0.0.1"]
        opened.append(playwright.chromium.launch(executable_path=CHROMIUM, args=args))
        context = opened[-1].new_context(viewport=PHONE, has_touch=True, **options)
        context.set_default_timeout(15_000)
        return context

    yield launch
    for browser in opened:
        browser.close()
