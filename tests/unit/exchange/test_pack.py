"""Packs: what is new since the last one, safe to take in twice and in any order; what is damaged is refused before anything of it is stored."""

import hashlib
import itertools
import json
import subprocess
import zipfile

import pytest

from server.errors import Refused, Unavailable
from server.exchange import unpack as reader
from server.exchange.pack import pack
from server.exchange.unpack import unpack
from server.store.engine import Store
from server.sync.push import Batch, push
from tests.books import empty_book
from tests.entries import WALL_0, whole_trial
from tests.unit.exchange.test_between import some


@pytest.fixture
def book(tmp_path):
    """Call with a name for an empty bench book."""
    opened = []

    def open_book(name: str) -> Store:
        store = Store(empty_book(tmp_path / f"{name}.db"))
        opened.append(store)
        return store

    yield open_book
    for store in opened:
        store.close()


def put(store: Store, entries: list[dict]) -> list[str]:
    with store.write() as session:
        assert {v.verdict for v in push(session, Batch(entries=entries), 1)} <= {"stored", "same"}
    return [e["id"] for e in entries]


def held(store: Store) -> set[str]:
    with store.read() as session:
        from server.sync import feed

        return {json.loads(text)["id"] for entries, _mark in feed.every_page(session) for text in entries}


def packed(store: Store, folder, n: int, **more):
    return pack(store, folder / f"pack-{n}.zip", "demo laptop", WALL_0 + n, **more)


def test_each_pack_holds_what_is_new_since_the_last(book, tmp_path):
    store = book("laptop")
    assert packed(store, tmp_path, 0).entries == 0
    put(store, some())
    assert packed(store, tmp_path, 1).entries == 14
    assert packed(store, tmp_path, 2).entries == 0
    put(store, some(1))
    made = packed(store, tmp_path, 3)
    assert (made.entries, made.after.seq, made.until.seq) == (8, 14, 22)
    assert packed(store, tmp_path, 4, everything=True).entries == 22


@pytest.mark.parametrize("order", list(itertools.permutations(range(3))))
def test_packs_taken_in_in_any_order_and_twice_give_the_same(book, tmp_path, order):
    laptop, desk = book("laptop"), book("desk")
    for n in range(3):
        put(laptop, some(1))
        packed(laptop, tmp_path, n)
    put(desk, whole_trial())
    told = [unpack(desk, tmp_path / f"pack-{n}.zip", WALL_0) for n in (*order, *order)]
    assert [(t.stored, t.same, t.refused) for t in told] == [(8, 0, {})] * 3 + [(0, 8, {})] * 3
    assert held(laptop) < held(desk) and len(held(desk)) == 30


def test_the_checksum_is_that_of_the_lines(book, tmp_path):
    """Read by the unzip and sha256sum of the system, not by our own code."""
    store = book("laptop")
    put(store, some())
    packed(store, tmp_path, 1)
    lines = subprocess.run(["python3", "-m", "zipfile", "-e", tmp_path / "pack-1.zip", tmp_path / "out"], check=True, capture_output=True)
    assert lines.returncode == 0
    told = json.loads((tmp_path / "out/about.json").read_text())
    seal = subprocess.run(["sha256sum", tmp_path / "out/entries.jsonl"], check=True, capture_output=True, text=True).stdout.split()[0]
    assert told["sha256"] == seal and told["entries"] == len((tmp_path / "out/entries.jsonl").read_text().splitlines()) == 14


def rewritten(path, change) -> None:
    """The ZIP with its parts changed."""
    with zipfile.ZipFile(path) as file:
        parts = {name: file.read(name) for name in file.namelist()}
    change(parts)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        for name, data in parts.items():
            file.writestr(name, data)


def _sealed(parts: dict, lines: bytes) -> None:
    about = json.loads(parts["about.json"])
    parts["entries.jsonl"] = lines
    parts["about.json"] = json.dumps({**about, "sha256": hashlib.sha256(lines).hexdigest(), "entries": lines.count(b"\n")}).encode()


DAMAGES = {
    "a figure changed": lambda p: p.update({"entries.jsonl": p["entries.jsonl"].replace(b"2.0", b"9.0", 1)}),
    "a line gone": lambda p: p.update({"entries.jsonl": p["entries.jsonl"].split(b"\n", 1)[1]}),
    "no about": lambda p: p.pop("about.json"),
    "no entries": lambda p: p.pop("entries.jsonl"),
    "another part": lambda p: p.update({"../../etc/passwd": b"x"}),
    "about is no JSON": lambda p: p.update({"about.json": b"{"}),
    "about is deep": lambda p: p.update({"about.json": b"[" * 20_000}),
    "newer": lambda p: p.update({"about.json": p["about.json"].replace(b'"isokom_pack": 1', b'"isokom_pack": 2')}),
    "a line without end": lambda p: _sealed(p, b'{"id": "' + b"x" * 1_100_000 + b'"}\n'),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_what_is_damaged_is_refused_whole(book, tmp_path, damage):
    laptop, desk = book("laptop"), book("desk")
    put(laptop, some())
    path = packed(laptop, tmp_path, 1).path
    rewritten(path, DAMAGES[damage])
    with pytest.raises(Refused):
        unpack(desk, path, WALL_0)
    assert held(desk) == set()


@pytest.mark.parametrize("cut", [0, 1, 30, 400, -1, -30])
def test_a_file_cut_off_is_refused(book, tmp_path, cut):
    laptop, desk = book("laptop"), book("desk")
    put(laptop, some())
    path = packed(laptop, tmp_path, 1).path
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(Refused):
        unpack(desk, path, WALL_0)
    assert held(desk) == set()


def test_a_bomb_is_refused_before_it_is_unpacked(book, tmp_path, monkeypatch):
    """What the archive says of its size counts first; an archive that lies is stopped by what comes out of it."""
    monkeypatch.setattr(reader, "LARGEST_UNPACKED_BYTES", 3_000_000)
    path = tmp_path / "bomb.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("about.json", "{}")
        file.writestr("entries.jsonl", b"{}\n" * 2_000_000)
    assert path.stat().st_size < 20_000
    desk = book("desk")
    with pytest.raises(Refused) as refused:
        unpack(desk, path, WALL_0)
    assert refused.value.code == "too_large"


def test_a_bad_entry_stops_none_of_the_others(book, tmp_path):
    laptop, desk = book("laptop"), book("desk")
    put(laptop, some())
    path = packed(laptop, tmp_path, 1).path
    rewritten(path, lambda p: _sealed(p, p["entries.jsonl"] + b'{"kind": "weather.noted"}\nnull\n{"id": "x"\n'))
    told = unpack(desk, path, WALL_0)
    assert (told.stored, sum(told.refused.values())) == (14, 3)
    assert held(desk) == held(laptop)


def test_the_file_of_a_tablet_is_taken_in(book, tmp_path):
    desk, entries = book("desk"), some()
    path = tmp_path / "isokom-entries.json"
    path.write_text(json.dumps({"isokom_entries": 1, "entries": [{**e, "state": "waiting", "code": "", "message": ""} for e in entries]}))
    assert [(unpack(desk, path, WALL_0).stored, unpack(desk, path, WALL_0).same)] == [(14, 14)]
    for wrong in ("[]", '{"isokom_entries": 2, "entries": []}', '{"isokom_entries": 1, "entries": 3}', "", "\x00"):
        path.write_text(wrong)
        with pytest.raises(Refused):
            unpack(desk, path, WALL_0)


def tablet_file(path, sent: list[dict], change=lambda lines: lines, **about):
    """As static/sync/file.js writes it; the seal is the standard library's."""
    lines = "".join(f"{json.dumps(e | {'state': 'waiting', 'code': '', 'message': ''})}\n" for e in sent).encode()
    told = {"isokom_entries": 2, "device": "demo", "made_ms": 1, "entries": len(sent), "sha256": hashlib.sha256(lines).hexdigest(), **about}
    path.write_bytes(json.dumps(told).encode() + b"\n" + change(lines))
    return path


def test_the_file_of_a_tablet_line_by_line(book, tmp_path):
    desk, entries, path = book("desk"), some(), tmp_path / "isokom-entries.json"
    for sent, told in ((entries[:9], (9, 0)), (entries, (5, 9)), (entries[::-1], (0, 14))):
        found = unpack(desk, tablet_file(path, sent), WALL_0)
        assert (found.stored, found.same, found.refused) == (*told, {})
    assert held(desk) == {e["id"] for e in entries}
    found = unpack(desk, tablet_file(path, [{"kind": "weather.noted"}, *whole_trial()], sha256=""), WALL_0)
    assert (found.stored, sum(found.refused.values())) == (6, 1)


def test_a_tablets_file_whose_line_ends_a_mail_program_changed_is_the_same_file(book, tmp_path):
    path = tablet_file(tmp_path / "a.json", whole_trial())
    path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    assert unpack(book("desk"), path, WALL_0).stored == len(whole_trial())


@pytest.mark.parametrize("change", [lambda lines: lines[:-9], lambda lines: lines.replace(b"Demo Rubin", b"Demo Rubim", 1), lambda lines: lines + b"{}\n", lambda lines: b"", lambda lines: b"\n".join(lines.split(b"\n")[1:])])
def test_a_tablets_file_that_was_cut_or_changed_is_refused_whole(book, tmp_path, change):
    desk = book("desk")
    with pytest.raises(Refused) as refused:
        unpack(desk, tablet_file(tmp_path / "a.json", whole_trial(), change), WALL_0)
    assert refused.value.code == "damaged" and held(desk) == set()


@pytest.mark.parametrize(("about", "code"), [({"isokom_entries": 3}, "newer_file"), ({"entries": -1}, "damaged"), ({"sha256": "0"}, "damaged"), ({"entries": 7}, "damaged"), ({"isokom_entries": True}, "damaged")])
def test_what_a_tablets_file_says_of_itself_is_held_to(book, tmp_path, about, code):
    with pytest.raises(Refused) as refused:
        unpack(book("desk"), tablet_file(tmp_path / "a.json", whole_trial(), **about), WALL_0)
    assert refused.value.code == code


def test_a_tablets_file_of_brackets_and_one_of_a_single_endless_line_are_refused(book, tmp_path):
    path = tmp_path / "a.json"
    for text in (b"[" * 200_000, b'{"a":' * 100_000, b"x" * 2_000_000, b'{"isokom_entries": 2, "entries": 1, "sha256": ""}\n' + b"y" * 2_000_000):
        path.write_bytes(text)
        with pytest.raises(Refused):
            unpack(book("desk"), path, WALL_0)


def test_a_pack_that_cannot_be_written_counts_for_nothing(book, tmp_path):
    store = book("laptop")
    put(store, some())
    with pytest.raises(Unavailable):
        pack(store, tmp_path / "no such folder" / "pack.zip", "demo", WALL_0)
    before = tmp_path / "pack-1.zip"
    before.write_text("an older file")
    with pytest.raises(Refused, match="there already"):
        packed(store, tmp_path, 1)
    assert before.read_text() == "an older file"
    before.unlink()
    assert packed(store, tmp_path, 1).entries == 14
    assert sorted(p.name for p in tmp_path.iterdir() if "part" in p.name) == []


def test_what_was_not_taken_in_is_said_loudly():
    from server.exchange.unpack import Unpacked

    told = Unpacked(3, 1, {"This kind of entry is not known here.": 2}).sentence
    assert told == "3 new, 1 were here already; 2 were NOT taken in (This kind of entry is not known here.) Keep this file."
