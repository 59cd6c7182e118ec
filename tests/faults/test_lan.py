"""`serve --lan` as a process of its own: three doors, each with what belongs there, and nothing open without being asked for."""

import hashlib
import re
import signal
import socket
import ssl
from datetime import UTC, datetime, timedelta

import httpx
import pytest

from server.lan import certificates
from tests.conftest import free_port
from tests.processes import PATIENCE_S, Served, isokom


class Lan:
    """The ports and files of one served desk."""

    def __init__(self, folder):
        self.port, self.lan_port, self.help_port = free_port(), free_port(), free_port()
        self.database = folder / "bench.db"
        self.authority = folder / "lan" / "authority.pem"
        self.words = ("serve", "--lan", "--port", self.port, "--lan-name", "isokom-demo.local", "--lan-port", self.lan_port, "--help-port", self.help_port, "--database", self.database)

    def served(self, *more) -> Served:
        return Served(*self.words, *more)

    def certificate(self) -> bytes:
        """The one that is shown now, DER; its name and chain are looked at on the way."""
        context = ssl.create_default_context(cafile=self.authority)
        with socket.create_connection(("127.0.0.1", self.lan_port), timeout=PATIENCE_S) as plain, context.wrap_socket(plain, server_hostname="isokom-demo.local") as secure:
            assert secure.version() in ("TLSv1.2", "TLSv1.3")
            return secure.getpeercert(binary_form=True)

    def get(self, path: str) -> httpx.Response:
        """Over HTTPS, believing the desk's authority alone."""
        context = ssl.create_default_context(cafile=self.authority)
        return httpx.get(f"https://127.0.0.1:{self.lan_port}{path}", headers={"Host": f"isokom-demo.local:{self.lan_port}"}, verify=context, timeout=PATIENCE_S)


@pytest.fixture
def lan(tmp_path) -> Lan:
    return Lan(tmp_path)


def test_three_doors_and_what_is_behind_each(lan):
    with lan.served() as served:
        assert f"https://isokom-demo.local:{lan.lan_port}" in served.told
        assert httpx.get(f"http://127.0.0.1:{lan.port}/health").json()["ok"]
        assert lan.get("/health").json()["ok"]
        helping = httpx.get(f"http://127.0.0.1:{lan.help_port}/")
        der = httpx.get(f"http://127.0.0.1:{lan.help_port}/isokom-ca.crt")
        assert der.headers["content-type"] == "application/x-x509-ca-cert"
        seal = hashlib.sha256(der.content).hexdigest().upper()
        groups = " ".join(seal[i : i + 4] for i in range(0, 64, 4))
        assert groups in served.told and groups in re.sub(r"<[^>]+>", "", helping.text)
        for path in ("/results", "/finds", "/sync/push", "/glass.json", "/openapi.json", "/docs"):
            assert httpx.get(f"http://127.0.0.1:{lan.help_port}{path}").status_code == 302
        assert httpx.post(f"http://127.0.0.1:{lan.help_port}/", content="x").status_code == 405
        assert served.stop(signal.SIGTERM) == 0
    assert "Traceback" not in served.stderr


def test_plain_http_on_the_tablets_port_is_no_way_in(lan):
    with lan.served(), pytest.raises(httpx.TransportError):
        httpx.get(f"http://127.0.0.1:{lan.lan_port}/health")


def test_without_lan_only_this_machine_is_served(tmp_path):
    port = free_port()
    with Served("serve", "--port", port, "--database", tmp_path / "b.db"):
        with socket.create_server(("127.0.0.2", port)):
            pass  # nobody else listens there
        assert not (tmp_path / "lan").exists()


def test_the_next_start_keeps_authority_name_and_port(lan):
    with lan.served():
        first = (lan.authority.read_bytes(), lan.certificate())
    with Served("serve", "--lan", "--port", lan.port, "--help-port", lan.help_port, "--database", lan.database) as again:
        assert (lan.authority.read_bytes(), lan.certificate()) == first
        assert f"https://isokom-demo.local:{lan.lan_port}" in again.told
    with Served(*lan.words[:4], "--lan-name", "other.local", "--help-port", lan.help_port, "--database", lan.database) as warned:
        assert "--new-address" in warned.told and f"https://isokom-demo.local:{lan.lan_port}" in warned.told


def test_an_expired_certificate_is_renewed_at_the_next_start(lan):
    then = datetime.now(UTC) - timedelta(days=420)
    certificates.prepare(lan.authority.parent, "demo", ["isokom-demo.local"], then)
    before, authority = (lan.authority.parent / "server.pem").read_bytes(), lan.authority.read_bytes()
    assert certificates.ends(before) < datetime.now(UTC)
    with lan.served():
        assert lan.get("/health").status_code == 200
    assert lan.authority.read_bytes() == authority


def test_a_taken_port_is_named(lan):
    for option, port in (("--lan-port", lan.lan_port), ("--help-port", lan.help_port)):
        with socket.create_server(("0.0.0.0", port)):
            done = isokom(*lan.words)
        assert done.returncode == 1 and done.stderr.startswith("isokom: ") and option in done.stderr and str(port) in done.stderr
        assert "Traceback" not in done.stderr and not lan.database.exists()


def test_an_address_is_kept_only_once_it_was_had(lan):
    """A first start with the port taken fixes nothing; later the kept port is changed by --new-address alone, and that is said."""
    note = lan.authority.parent / "lan.json"
    with socket.create_server(("0.0.0.0", lan.lan_port)):
        assert isokom(*lan.words).returncode == 1 and not note.exists()
    with lan.served():
        kept = note.read_bytes()
    with socket.create_server(("0.0.0.0", lan.lan_port)):
        done = isokom(*lan.words)
        assert done.returncode == 1 and "--new-address" in done.stderr and "stays behind" in done.stderr
    with socket.create_server(("0.0.0.0", other := free_port())):
        done = isokom(*lan.words, "--lan-port", other, "--new-address")
        assert done.returncode == 1 and str(other) in done.stderr and note.read_bytes() == kept


def test_own_certificate_files_are_served_and_wrong_ones_refused(lan, tmp_path):
    files = certificates.prepare(tmp_path / "own", "demo", ["isokom-demo.local", "127.0.0.1"])
    with lan.served("--certificate", files.certificate, "--private-key", files.key) as served:
        lan.authority = files.authority
        assert lan.get("/health").status_code == 200
        assert "Fingerprint" not in served.told
        with pytest.raises(httpx.TransportError):
            httpx.get(f"http://127.0.0.1:{lan.help_port}/")
    done = isokom(*lan.words, "--certificate", files.certificate, "--private-key", files.authority_key)
    assert done.returncode == 1 and "private key" in done.stderr
    done = isokom(*lan.words, "--certificate", files.certificate)
    assert done.returncode == 1 and "--private-key" in done.stderr
