"""Which name tablets are told, and which is refused in words before anything is made."""

import pytest

from server.errors import Refused
from server.lan import certificates, names
from server.lan.lan import prepared, renewed
from server.lan.names import Place
from server.settings import Settings


@pytest.fixture
def told(tmp_path):
    """Settings of a desk in this folder."""
    return lambda **given: Settings(database=tmp_path / "b.db", lan=True, **given)


@pytest.mark.parametrize("name", ["desk.lab.example", "a..b", "a..local", "192.168.1.5", "local"])
def test_a_name_that_the_authority_may_not_sign_is_refused_and_nothing_made(tmp_path, told, name):
    with pytest.raises(Refused, match="--lan-name"):
        prepared(told(lan_name=name), 8730)
    assert list(tmp_path.iterdir()) == []


def test_nor_where_it_is_kept_or_would_only_be_warned_of(tmp_path, told):
    names.keep(tmp_path / "lan", Place("isokom-desk.local", 8729))
    with pytest.raises(Refused, match="desk.lab.example"):
        prepared(told(lan_name="desk.lab.example"), 8730)
    names.keep(tmp_path / "lan", Place("desk.lab.example", 8729))
    with pytest.raises(Refused, match="--certificate"):
        prepared(told(), 8730)


def test_an_authority_without_limits_may_sign_any_host_name_but_no_number(told):
    assert prepared(told(lan_name="desk.lab.example", ca_without_limits=True), 8730).address == "https://desk.lab.example:8729"
    with pytest.raises(Refused):
        prepared(told(lan_name="192.168.1.5", ca_without_limits=True), 8730, change=True)


def test_without_a_network_no_tablet_is_sent_anywhere(told, monkeypatch):
    monkeypatch.setattr(names, "addresses", lambda: [])
    lan = prepared(told(), 8730)
    assert lan.help_address == "" and "on no network" in lan.warnings[0]
    monkeypatch.setattr(names, "addresses", lambda: ["10.0.0.7"])
    back = renewed(lan, told())
    assert back.help_address == "http://10.0.0.7:8730" and back.warnings == []


def test_a_certificate_that_was_damaged_meanwhile_is_told_and_renewed(told, monkeypatch):
    monkeypatch.setattr(names, "addresses", lambda: ["10.0.0.7"])
    lan = prepared(told(), 8730)
    lan.certificate.write_text("no certificate")
    assert lan.ends is None and "can no longer be read" in lan.warnings[0]
    assert renewed(lan, told()).warnings == []
    lan.certificate.unlink()
    assert renewed(lan, told()).warnings == []


@pytest.fixture
def own(tmp_path):
    """Options for a certificate of somebody's own for these names."""

    def made(*held: str) -> dict:
        files = certificates.prepare(tmp_path / "own", "demo", list(held), limited=False)
        return {"certificate": files.certificate, "private_key": files.key}

    return made


@pytest.mark.parametrize("name", [None, "lab.example", "a.desk.lab.example"])
def test_a_certificate_with_a_star_alone_needs_a_name_that_it_covers(tmp_path, told, own, name):
    with pytest.raises(Refused, match="lab.example.*--lan-name"):
        prepared(told(lan_name=name, **own("*.lab.example")), 0)


def test_such_a_name_is_taken_and_stays(tmp_path, told, own):
    options = own("*.lab.example", "other.example")
    lan = prepared(told(lan_name="desk.lab.example", **options), 0)
    assert lan.address == "https://desk.lab.example:8729" and "desk.lab.example" in lan.names
    assert prepared(told(**options), 0).address == "https://other.example:8729"
    names.keep(tmp_path / "lan", lan.place)
    again = prepared(told(**options), 0)
    assert again.address == lan.address and not again.warning
