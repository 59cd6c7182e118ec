"""Name and port stay what tablets know them as."""

import re

import pytest
from zeroconf import Zeroconf

from server.errors import Unavailable
from server.lan import names
from server.lan.announce import KIND, announce
from server.lan.names import Place, certified, keep, kept, plain, settled, usual_name


@pytest.mark.parametrize("host", ["laptop", "Büro PC_3.example.org", "----", "", "x" * 200, "ISOKOM-bench", "192.168.1.2"])
def test_a_usual_name_is_a_host_name(host):
    """RFC 1123 2.1: letters, digits and hyphens, no hyphen at an end; mDNS (RFC 6762) adds .local; 63 octets a label (RFC 1035)."""
    label = usual_name(host or "x").removesuffix(".local")
    assert re.fullmatch(r"[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?", label) and label.startswith("isokom")
    assert re.fullmatch(r"[a-z0-9]([a-z0-9-]*[a-z0-9])?", plain(host))


def test_the_first_name_is_kept_whatever_the_machine_is_called_later(tmp_path, monkeypatch):
    monkeypatch.setattr(names.socket, "gethostname", lambda: "first")
    place, warning = settled(tmp_path, None, None, 8729, change=False)
    assert (place, warning, place.address) == (Place("isokom-first.local", 8729), "", "https://isokom-first.local:8729")
    assert kept(tmp_path) is None
    keep(tmp_path, place)
    monkeypatch.setattr(names.socket, "gethostname", lambda: "second")
    assert settled(tmp_path, None, None, 9999, change=False) == (place, "")


@pytest.mark.parametrize(("name", "port"), [("other.local", None), (None, 9000), ("other.local", 9000)])
def test_another_name_or_port_is_only_taken_when_it_is_really_wanted(tmp_path, name, port):
    first = Place("first.local", 8729)
    keep(tmp_path, first)
    place, warning = settled(tmp_path, name, port, 8729, change=False)
    assert place == first and "--new-address" in warning and first.address in warning
    place, warning = settled(tmp_path, name, port, 8729, change=True)
    assert place == Place(name or "first.local", port or 8729) and "stays behind" in warning and kept(tmp_path) == first
    keep(tmp_path, place)
    assert settled(tmp_path, None, None, 8729, change=False) == (place, "")


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"name": "a.local"}', '{"name": "a.local", "port": "x"}', '{"name": "a.local", "port": 99999999}', '{"name": "", "port": 8729}', '{"name": "a.local", "port": true}', '{"name": ["a"], "port": 8729}'])
def test_a_damaged_note_is_not_written_over(tmp_path, damage):
    (tmp_path / "lan.json").write_text(damage)
    with pytest.raises(Unavailable):
        settled(tmp_path, None, None, 8729, change=False)
    assert (tmp_path / "lan.json").read_text() == damage


def test_only_private_addresses_are_certified():
    """RFC 1918, RFC 4193; 192.0.2.0/24 (RFC 5737) and 2001:db8::/32 (RFC 3849) are nobody's."""
    held = certified(Place("a.local", 1), ["10.1.2.3", "172.31.0.9", "172.32.0.9", "192.0.2.7", "fd12::1", "2001:db8::1", "8.8.8.8"])
    assert held == ["a.local", "localhost", "127.0.0.1", "::1", "10.1.2.3", "172.31.0.9", "fd12::1"]


def test_the_desk_is_found_by_name_until_it_says_good_bye():
    """Asked by an mDNS library of its own (RFC 6762, RFC 6763)."""
    place = Place("isokom-demo-found.local", 8729)
    announced = announce(place, ["127.0.0.1", "fd00::9"])
    with Zeroconf() as asking:
        found = asking.get_service_info(KIND, f"isokom-demo-found.{KIND}", timeout=5000)
        assert (found.port, found.server) == (8729, "isokom-demo-found.local.") and "127.0.0.1" in found.parsed_addresses()
    announced.end()
    announced.end()
    with Zeroconf() as asking:
        assert asking.get_service_info(KIND, f"isokom-demo-found.{KIND}", timeout=500) is None
