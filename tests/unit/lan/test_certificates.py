"""The authority and its certificates, held against RFC 5280 by OpenSSL, which knows nothing of our code."""

import stat
import subprocess
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509

from server.errors import Refused, Unavailable
from server.lan import certificates as c

NOW = datetime(2026, 11, 26, 12, tzinfo=UTC)
NAMES = ["isokom-demo.local", "localhost", "127.0.0.1", "::1", "192.168.7.20", "fd00::20"]


def openssl(*words) -> subprocess.CompletedProcess:
    return subprocess.run(["openssl", *map(str, words)], capture_output=True, text=True, timeout=30)


def verified(files: c.Files, *more, at: datetime = NOW) -> bool:
    """Whether OpenSSL, in its strict mode, follows the chain at that time."""
    return openssl("verify", "-x509_strict", "-attime", int(at.timestamp()), "-purpose", "sslserver", *more, "-CAfile", files.authority, files.certificate).returncode == 0


@pytest.fixture
def files(tmp_path) -> c.Files:
    return c.prepare(tmp_path / "lan", "demo", NAMES, NOW)


def test_openssl_follows_the_chain_for_every_name_and_no_other(files):
    assert all(verified(files, "-verify_hostname" if "local" in name else "-verify_ip", name) for name in NAMES)
    assert not verified(files, "-verify_hostname", "other.local")
    assert not verified(files, "-verify_ip", "192.168.7.21")


def test_what_a_tablet_needs_stands_in_the_certificate(files):
    text = openssl("x509", "-in", files.certificate, "-noout", "-text").stdout
    assert "TLS Web Server Authentication" in text and "CA:FALSE" in text and "ecdsa-with-SHA256" in text
    text = openssl("x509", "-in", files.authority, "-noout", "-text").stdout
    for words in ("CA:TRUE, pathlen:0", "Certificate Sign, CRL Sign", "X509v3 Name Constraints: critical", "DNS:local", "IP:192.168.0.0/255.255.0.0"):
        assert words in text


def test_a_certificate_lasts_no_longer_than_browsers_take(files):
    """397 days: CA/Browser Forum Baseline Requirements 6.3.2 (398 days), and iPadOS refuses more than 825."""
    found = x509.load_pem_x509_certificate(files.certificate.read_bytes())
    assert timedelta(days=300) < found.not_valid_after_utc - found.not_valid_before_utc <= timedelta(days=397)
    assert found.not_valid_before_utc < NOW - timedelta(hours=24)


@pytest.mark.parametrize("name", ["example.com", "8.8.8.8", "isokom.local.example.com"])
def test_the_authority_cannot_vouch_for_any_other_place(files, tmp_path, name):
    """RFC 5280 4.2.1.10: a chain with a name outside the limits is refused."""
    pem, _key = c.make_certificate(files.authority.read_bytes(), files.authority_key.read_bytes(), [name], NOW)
    files.certificate.write_bytes(pem)
    assert not verified(files)
    free = c.prepare(tmp_path / "free", "demo", NAMES, NOW, limited=False)
    free.certificate.write_bytes(c.make_certificate(free.authority.read_bytes(), free.authority_key.read_bytes(), [name], NOW)[0])
    assert verified(free) and not c.is_limited(free.authority.read_bytes()) and c.is_limited(files.authority.read_bytes())


def test_keys_are_for_their_owner_alone(files):
    assert stat.S_IMODE(files.folder.stat().st_mode) == 0o700
    assert {stat.S_IMODE(path.stat().st_mode) for path in (files.key, files.authority_key)} == {0o600}
    assert sorted(path.name for path in files.folder.iterdir()) == ["authority.key", "authority.pem", "server.key", "server.pem"]


def test_the_fingerprint_is_the_one_that_other_programs_show(files):
    told = openssl("x509", "-in", files.authority, "-noout", "-fingerprint", "-sha256").stdout
    assert told.split("=")[1].strip().replace(":", "").lower() == c.fingerprint(files.authority.read_bytes())


@pytest.mark.parametrize(
    ("names", "later", "is_new"),
    [
        (NAMES, timedelta(days=300), False),
        (NAMES[:3], timedelta(), False),
        ([*NAMES, "10.0.0.9"], timedelta(), True),
        (NAMES, timedelta(days=340), True),
        (NAMES, timedelta(days=500), True),
        (NAMES, -timedelta(days=400), True),
    ],
    ids=["young", "fewer", "another address", "soon over", "over", "from the future"],
)
def test_a_certificate_is_renewed_when_it_must_be_and_the_authority_never(files, names, later, is_new):
    authority, before = files.authority.read_bytes(), files.certificate.read_bytes()
    c.prepare(files.folder, "demo", names, NOW + later)
    assert files.authority.read_bytes() == authority
    assert (files.certificate.read_bytes() != before) == is_new
    assert later < timedelta() or verified(files, at=NOW + later)


@pytest.mark.parametrize("damage", ["server.pem", "server.key"])
def test_a_damaged_certificate_is_made_anew(files, damage):
    (files.folder / damage).write_bytes(b"damaged")
    c.prepare(files.folder, "demo", NAMES, NOW)
    assert verified(files)


def test_an_authority_that_is_damaged_or_over_is_not_replaced_in_silence(files):
    with pytest.raises(Unavailable) as over:
        c.prepare(files.folder, "demo", NAMES, NOW + timedelta(days=3700))
    assert "no longer counts" in over.value.message
    files.authority.write_bytes(b"damaged")
    with pytest.raises(Unavailable):
        c.prepare(files.folder, "demo", NAMES, NOW)
    assert files.authority.read_bytes() == b"damaged"


def test_no_certificate_outlives_its_authority(files):
    late = NOW + timedelta(days=3500)
    c.prepare(files.folder, "demo", NAMES, late)
    assert c.ends(files.certificate.read_bytes()) <= c.ends(files.authority.read_bytes())
    before = files.certificate.read_bytes()
    c.prepare(files.folder, "demo", NAMES, late + timedelta(days=1))
    assert files.certificate.read_bytes() == before


def test_own_files_are_looked_at_first(files, tmp_path):
    assert c.own_files(files.certificate, files.key, NOW) == NAMES
    other = c.prepare(tmp_path / "other", "demo", NAMES, NOW)
    for certificate, key, now in ((files.certificate, other.key, NOW), (files.key, files.key, NOW), (tmp_path / "none", files.key, NOW), (files.certificate, files.key, NOW + timedelta(days=400))):
        with pytest.raises(Refused):
            c.own_files(certificate, key, now)
    with pytest.raises(Refused, match="counts from 25 November 2026 on"):
        c.own_files(files.certificate, files.key, NOW - timedelta(days=30))


@pytest.mark.parametrize("name", ["isokom-demo.local", "desk.home.arpa", "localhost", "bench.localhost"])
def test_what_counts_as_local_openssl_follows(files, name):
    assert c.is_local(name)
    files.certificate.write_bytes(c.make_certificate(files.authority.read_bytes(), files.authority_key.read_bytes(), [name], NOW)[0])
    assert verified(files, "-verify_hostname", name)


@pytest.mark.parametrize("name", ["example.com", "local", "a..local", "192.168.1.5", "-a.local", "alocal", f"{'a' * 64}.local", "desk.local.example"])
def test_what_does_not_count_as_a_local_name(name):
    assert not c.is_local(name)


def test_a_star_covers_one_label_as_openssl_has_it(tmp_path):
    free = c.prepare(tmp_path / "free", "demo", ["*.lab.example", "lab2.example"], NOW, limited=False)
    for name in ("desk.lab.example", "lab2.example", "lab.example", "a.desk.lab.example", "desk.lab2.example"):
        assert c.covers(["*.lab.example", "lab2.example"], name) == verified(free, "-verify_hostname", name)
