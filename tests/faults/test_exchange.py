"""A field laptop and a desk as real processes: joined by a link over HTTPS, brought to hold the same, turned away."""

import re
import sqlite3
import ssl
from contextlib import closing

import httpx
import pytest

from server.exchange import remote
from server.settings import Settings
from server.store.opening import open_store
from server.sync.push import Batch, push
from tests import finds
from tests.conftest import free_port
from tests.entries import whole_trial
from tests.faults.test_lan import Lan
from tests.machines import TABLES
from tests.processes import isokom


def ids(path) -> set[str]:
    """Every entry of a book, read past our own code."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        found = [row[0] for table, column in zip(TABLES, ("id", "id", "entry"), strict=True) for row in connection.execute(f"SELECT {column} FROM {table}")]
    assert len(found) == len(set(found))
    return set(found)


@pytest.fixture
def laptop(tmp_path):
    """A bench book with a trial and a photo."""
    path = tmp_path / "laptop.db"
    store = open_store(Settings(database=path))
    with store.write() as session:
        push(session, Batch(entries=[*whole_trial(), finds.photo(finds.subject())]), 1)
    store.close()
    return path


def link_of(lan: Lan, **said) -> str:
    """The link that the desk shows, with the address by number: the name needs mDNS."""
    invited = isokom("invite", "--database", lan.database).stdout
    return re.search(r"Link: (\S+)", invited)[1].replace("isokom-demo.local", "localhost")


def code_for(lan: Lan, role: str) -> str:
    """As the desk's page shows it."""
    return re.search(r'class="join-code">([^<]+)<', httpx.post(f"http://127.0.0.1:{lan.port}/devices/invite", data={"role": role}).text)[1].replace(" ", "")


def test_joined_by_a_link_both_hold_the_same_until_one_is_turned_away(tmp_path, laptop):
    lan = Lan(tmp_path)
    with lan.served():
        httpx.post(f"http://127.0.0.1:{lan.port}/sync/push", json={"entries": whole_trial()})
        link = link_of(lan)
        done = isokom("sync", link, "--database", laptop)
        assert done.returncode == 0 and "7 sent, 6 came." in done.stdout, done.stderr
        assert ids(laptop) == ids(lan.database)
        assert "Nothing was new" in isokom("sync", "--database", laptop).stdout
        replayed = isokom("sync", link, "--database", tmp_path / "other.db")
        assert replayed.returncode == 1 and "not, or no longer, good" in replayed.stderr
        page = httpx.get(f"http://127.0.0.1:{lan.port}/devices").text
        assert "another machine" in page
        (pass_id,) = set(re.findall(r'/devices/([0-9a-f-]{36})/revoke', page))
        httpx.post(f"http://127.0.0.1:{lan.port}/devices/{pass_id}/revoke")
        away = isokom("sync", "--database", laptop)
        assert away.returncode == 1 and "does not let this machine in" in away.stderr
    gone = isokom("sync", "--database", laptop)
    assert gone.returncode == 1 and "does not answer (nobody listens there)" in gone.stderr and "Traceback" not in gone.stderr
    address = f"https://localhost:{lan.lan_port}"
    assert f"{address} is forgotten here" in isokom("sync", "--forget", address, "--database", laptop).stdout
    assert "No other machine is known yet" in isokom("sync", "--database", laptop).stderr


def test_a_mistyped_address_of_this_machine_is_not_kept(laptop):
    address = f"http://127.0.0.1:{free_port()}"
    told = isokom("sync", address, "--database", laptop)
    assert told.returncode == 1 and "nobody listens there" in told.stderr
    assert "There is no machine at" in isokom("sync", "--forget", address, "--database", laptop).stderr


def test_a_machine_with_another_certificate_is_sent_nothing(tmp_path, laptop):
    """Somebody in the way, or a desk set up anew: the fingerprint of the link and the certificate of before decide."""
    lan = Lan(tmp_path)
    with lan.served():
        link = link_of(lan)
        wrong = isokom("sync", re.sub(r"f=....", "f=0000", link), "--database", laptop)
        assert wrong.returncode == 1 and "another fingerprint" in wrong.stderr
        bare = isokom("sync", re.sub(r"&f=.*", "", link), "--database", laptop)
        assert bare.returncode == 1 and "lacks the fingerprint" in bare.stderr
        guest = isokom("sync", re.sub(r"c=[^&]+", f"c={code_for(lan, 'guest')}", link), "--database", laptop)
        assert guest.returncode == 1 and "lets in a guest" in guest.stderr
        assert "No other machine is known yet" in isokom("sync", "--database", laptop).stderr
        assert isokom("sync", link, "--database", laptop).returncode == 0
    for path in lan.authority.parent.glob("*.[pk]e[my]"):
        path.unlink()
    with lan.served():
        other = isokom("sync", "--database", laptop)
        assert other.returncode == 1 and "not the one it was let in with" in other.stderr


def test_a_certificate_of_another_authority_is_not_believed(tmp_path):
    """The context trusts the one authority alone, not those of the system (ssl.create_default_context with cadata loads no others; Python's documentation of ssl)."""
    from server.lan import certificates

    one, other = (certificates.prepare(tmp_path / name, "demo", ["localhost"]) for name in ("one", "other"))
    context = remote.trusting(one.authority.read_text())
    assert len(context.get_ca_certs()) == 1 and context.verify_mode == ssl.CERT_REQUIRED and context.check_hostname
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(other.certificate, other.key)
    incoming, outgoing, from_client, to_client = (ssl.MemoryBIO() for _ in range(4))
    client, serving = context.wrap_bio(incoming, outgoing, server_hostname="localhost"), server.wrap_bio(from_client, to_client, server_side=True)
    with pytest.raises(ssl.SSLCertVerificationError):
        for _ in range(4):
            for side in (client, serving):
                try:
                    side.do_handshake()
                except ssl.SSLWantReadError:
                    pass
                from_client.write(outgoing.read())
                incoming.write(to_client.read())
