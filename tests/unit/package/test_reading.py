"""What is no package is refused in one sentence; a row that is no entry stops none of the others."""

import io
import json
import random
import zipfile

import httpx
import pytest

from server.errors import Refused
from server.package import reading
from server.package.reading import file_of, read, rows
from tests.packages import odd_entries, packed, parts, put, told_in, with_entries, zipped

HEADING = b"id,kind,subject,n,device,at_ms,body\r\n"


@pytest.fixture
def data(store):
    put(store, odd_entries())
    return packed(store)


def refused(data: bytes) -> str:
    with pytest.raises(Refused) as caught:
        read(data)
    return caught.value.code


def test_what_was_packed_is_read(data):
    found = list(rows(read(data)))
    assert [row.entry for row in found] == told_in(data) and len(found) > 50
    assert [row.line for row in found] == list(range(1, len(found) + 1))


def test_a_file_comes_out_of_a_form_byte_for_byte():
    """Forms as httpx writes them (RFC 7578), with bytes of all kinds in the file."""
    dice = random.Random(3)
    for size in (0, 1, 2, 3, 1000, 70_000):
        sent = dice.randbytes(size) + dice.choice([b"", b"\r\n", b"\n", b"--", b"\r\n--", b"\r\n\r\n"])
        form = httpx.Request("POST", "http://x", files={"package": ("a.zip", sent, "application/zip")}, data={"more": "field"})
        assert file_of(form.read(), form.headers["content-type"]) == sent
    assert file_of(b"raw", "application/zip") == b"raw" == file_of(b"raw", "")


def test_a_form_without_a_file_is_refused():
    with pytest.raises(Refused, match="choose the ZIP"):
        file_of(b"--x\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\n1\r\n--x--\r\n", "multipart/form-data; boundary=x")


def changed(data: bytes, **files: bytes | None) -> bytes:
    """The package with other files; None leaves one out."""
    return zipped({name: content for name, content in {**parts(data), **{key.replace("_", "."): content for key, content in files.items()}}.items() if content is not None})


def described(data: bytes, change) -> bytes:
    """The package with another datapackage.json."""
    about = json.loads(parts(data)["datapackage.json"])
    change(about)
    return changed(data, datapackage_json=json.dumps(about).encode())


def test_what_is_no_package(data):
    assert refused(b"") == "no_file"
    assert refused(b"no zip at all") == "no_zip"
    assert refused(data[: len(data) // 2]) == "no_zip"
    assert refused(zipped({"words.txt": b"hello"})) == "no_package"
    assert refused(changed(data, datapackage_json=None)) == refused(changed(data, entries_csv=None)) == "no_package"
    assert refused(zipped({f"folder/{name}": content for name, content in parts(data).items()})) == "no_package"


@pytest.mark.parametrize("about", [b"{", b"[]", b"7", b"\xff\xfe", b"[" * 100_000, b'{"resources": 5}', b'{"resources": [5]}', b'{"resources": [{"name": "entries", "path": "../entries.csv"}]}', b'{"a": NaN}'])
def test_a_descriptor_that_tells_of_no_entries(data, about):
    assert refused(changed(data, datapackage_json=about)) == "no_package"


@pytest.mark.parametrize("schema", [None, 5, {}, {"fields": 5}, {"fields": [5] * 7}, {"fields": [{"name": "id"}]}])
def test_other_columns_are_refused(data, schema):
    assert refused(described(data, lambda about: about["resources"][-1].update(schema=schema))) == "other_columns"


def test_a_damaged_part_is_seen(data):
    where = data.index(b"entries.csv") + 400
    assert refused(data[:where] + bytes(byte ^ 0xFF for byte in data[where : where + 40]) + data[where + 40 :]) == "no_zip"


def test_an_encrypted_part_is_refused(data):
    """Bit 0 of the general purpose flag (APPNOTE 4.4.4), in the list at the end and before each file."""
    marked = bytearray(data)
    for mark, place in ((b"PK\x01\x02", 8), (b"PK\x03\x04", 6)):
        at = -1
        while (at := data.find(mark, at + 1)) >= 0:
            marked[at + place] |= 1
    assert refused(bytes(marked)) == "no_zip"


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_two_parts_of_one_name_are_refused(data):
    out = io.BytesIO(data)
    with zipfile.ZipFile(out, "a") as package:
        package.writestr("entries.csv", HEADING)
    assert refused(out.getvalue()) == "no_package"


def test_a_zip_that_swells_is_refused_before_it_is_unpacked(data, monkeypatch):
    monkeypatch.setattr(reading, "LARGEST_UNPACKED_BYTES", 3_000_000)
    swollen = changed(data, more_csv=b"0" * 4_000_000)
    assert len(swollen) < 500_000 and refused(swollen) == "too_large"
    assert refused(changed(data, datapackage_json=b" " * 2_500_000)) == "too_large"
    assert refused(changed(data, **{f"x{n}": b"" for n in range(250)})) == "too_large"


def test_a_part_that_lies_about_its_size_is_refused(data):
    """The list at the end says 10 bytes where more follow."""
    at = data.rindex(b"entries.csv") - 46
    assert data[at : at + 4] == b"PK\x01\x02"
    assert refused(data[: at + 24] + (10).to_bytes(4, "little") + data[at + 28 :]) == "no_zip"


def test_a_table_that_was_changed_is_refused(data):
    entries = parts(data)["entries.csv"]
    assert refused(with_entries(data, entries.replace(b"Demo", b"Dema"), is_sealed=False)) == "changed"
    assert len(list(rows(read(with_entries(data, entries))))) == len(told_in(data))


def test_a_package_without_seals_is_read(data):
    assert read(described(data, lambda about: about["resources"][-1].pop("hash"))) == parts(data)["entries.csv"]


@pytest.mark.parametrize(("text", "code"), [(b"a,b\r\n", "other_columns"), (b"", "other_columns"), (HEADING + b'x,"open', "no_package"), (HEADING + b"\xff\xfe", "no_package")])
def test_a_table_that_cannot_be_read_is_refused(data, text, code):
    assert refused(with_entries(data, text)) == code


@pytest.mark.parametrize(("line", "why"), [
    (b"x", "too few or too many cells"), (b"a,b,c,d,e,f,g,h", "too few or too many cells"), (b"a,b,c,one,e,6,{}", "whole numbers"), (b"a,b,c,1,e,6.5,{}", "whole numbers"), (b"a,b,c,1,e," + b"9" * 6000 + b",{}", "whole numbers"),
    (b"a,b,c,1,e,6,{", "no JSON"), (b"a,b,c,1,e,6,NaN", "no JSON"), (b"a,b,c,1,e,6," + b"[" * 100_000, "no JSON"), (b"a,b,c,1,e,6,", "no JSON"),
])
def test_a_row_that_is_no_entry_stops_none(data, line, why):
    good = b"a,b,c,1,e,6,{}\r\n"
    first, second, third = rows(read(with_entries(data, HEADING + good + line + b"\r\n" + good)))
    assert second.entry is None and why in second.why and second.line == 2
    assert first.entry == third.entry == {"id": "a", "kind": "b", "subject": "c", "n": 1, "device": "e", "at_ms": 6, "body": {}}


def test_a_cell_as_long_as_a_photo_is_read(data):
    body = json.dumps({"jpeg": "A" * 400_000}).replace('"', '""').encode()
    (row,) = rows(read(with_entries(data, HEADING + b'a,b,c,1,e,6,"' + body + b'"\r\n')))
    assert len(row.entry["body"]["jpeg"]) == 400_000
