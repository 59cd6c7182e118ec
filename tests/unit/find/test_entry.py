"""What an entry of a find may say, and what is refused."""

import base64
import re

import pytest

from server.errors import Refused
from server.find import log
from server.find.entry import CODE, TESTS
from server.store.picture import LONGEST_JPEG
from tests import finds as f

FIND, PIECE, OTHER = (f"018f0000-0000-7000-8000-00000000000{n}" for n in "123")
GOOD = [
    f.opened(FIND), f.opened(FIND, site="", keeper="", loan_from="", due="") | {"kind": "find.changed"},
    f.consent(FIND), f.consent(FIND, state="asked", by="", on="", tests=[]), f.consent(FIND, state="refused", tests=[], limit_g=2.5), f.consent(FIND, tests=list(TESTS), limit_piece_g=1),
    f.added(PIECE, FIND), f.added(PIECE, FIND, code="AC34", link="like", glass_key=None, glass_name="Demo glass"), f.added(PIECE, FIND, link="own", glass_key="demo", glass_name="") | {"kind": "piece.changed"},
    f.weighed(PIECE, 0), f.weighed(PIECE, 2.5, u_g=0.01), f.cut(PIECE, OTHER, 0.000001), f.used(PIECE, 2, trial=OTHER), f.lost(PIECE, 1, ""), f.returned(PIECE, 1, ""),
    f.undone(f.weighed(PIECE, 1)), f.photo(PIECE),
]
ALMOST_JPEG = base64.b64encode(b"\xff\xd8\xff\xe0 no end").decode()
# What cameras and programs write beside a picture: Exif and XMP, colours, IPTC (place and author), how colours are coded, remarks; and a small second picture (JFXX).
DESCRIBES = {
    "Exif": f.segment(0xE1, b"Exif\0\0"), "colours": f.segment(0xE2, b"ICC_PROFILE\0"), "IPTC": f.segment(0xED, b"Photoshop 3.0\0 Demo Quay"), "Adobe": f.segment(0xEE, b"Adobe"),
    "APP15": f.segment(0xEF, b""), "comment": f.segment(0xFE, b"Demo Quay"), "JFXX": f.segment(0xE0, b"JFXX\0"),
}
SCAN, TABLE = b"\xff\xda\x00\x02 \xff\x00 \xff\xd0 ", f.segment(0xC4, b"Demo")
TOO_LONG = base64.b64encode(b"\xff\xd8\xff" + b"\0" * (LONGEST_JPEG * 3 // 4) + b"\xff\xd9").decode()
BAD = [
    (f.opened(FIND, number=" "), "body.number"), (f.opened(FIND, site="a\nb"), "body.site"), (f.opened(FIND, due="1.3.2026"), "body.due"), (f.opened(FIND, due="2026-02-30"), "body.due"),
    (f.opened(FIND, due="20260210"), "body.due"), (f.opened(FIND, loan_from="2026-02-02", due="2026-02-01"), "before it began"), (f.opened(FIND, more=1), "body.more"),
    (f.consent(FIND, state="perhaps"), "body.state"), (f.consent(FIND, tests=["saw"]), "body.tests"), (f.consent(FIND, tests=["flame", "flame"]), "named twice"), (f.consent(FIND, tests=[]), "which tests"),
    (f.consent(FIND, by=" "), "by whom"), (f.consent(FIND, on=""), "which day"), (f.consent(FIND, limit_g=0), "body.limit_g"), (f.consent(FIND, limit_piece_g=-1), "body.limit_piece_g"),
    (f.added(PIECE, FIND, code="K0FM"), "body.code"), (f.added(PIECE, FIND, code="KIFM"), "body.code"), (f.added(PIECE, FIND, code="KFM"), "body.code"), (f.added(PIECE, FIND, code="kfm4"), "body.code"),
    (f.added(PIECE, "x"), "body.find"), (f.added(PIECE, FIND, label=""), "body.label"), (f.added(PIECE, FIND, link="own"), "a link names a glass"), (f.added(PIECE, FIND, glass_name="Demo"), "a glass is linked"),
    (f.weighed(PIECE, -0.1), "body.mass_g"), (f.weighed(PIECE, 100_001), "body.mass_g"), (f.weighed(PIECE, 1, u_g=-1), "body.u_g"), (f.cut(PIECE, PIECE, 1), "another piece"), (f.cut(PIECE, OTHER, 0), "body.mass_g"),
    (f.used(PIECE, 1, "saw"), "body.test"), (f.used(PIECE, 1, trial="x"), "body.trial"), (f.used(PIECE, True), "body.mass_g"), (f.lost(PIECE, "1"), "body.mass_g"), (f.returned(PIECE, float("nan")), "body.mass_g"),
    (f.undone({"subject": PIECE, "id": "x"}), "body.entry"), (f.photo(PIECE, "%%%"), "not base64"), (f.photo(PIECE, ALMOST_JPEG), "no JPEG"), (f.photo(PIECE, f.jpeg_of(f.JFIF, end=b"\xff\xd9 Demo \xff\xd9")), "behind the picture"),
    (f.photo(PIECE, f.jpeg_of(f.JFIF, scan=b"")), "no JPEG"), (f.photo(PIECE, f.jpeg_of(f.JFIF, b"\xff\xdb\x00\x00")), "no JPEG"), (f.photo(PIECE, f.jpeg_of(f.JFIF, b"Demo")), "no JPEG"),
    (f.photo(PIECE, f.jpeg_of(f.JFIF, b"\xff\xdb\xff\x00Demo")), "no end"),
    (f.photo(PIECE, TOO_LONG), "body.jpeg"), (f.photo(PIECE, width=1281), "body.width"), (f.photo(PIECE) | {"kind": "piece.painted"}, "kind"),
]


@pytest.mark.parametrize("raw", GOOD, ids=lambda raw: raw["kind"])
def test_what_a_tablet_makes_is_stored(store, raw):
    with store.write() as session:
        assert log.accept(session, raw, 5) == "stored"
        assert log.accept(session, raw, 6) == "same"


@pytest.mark.parametrize(("raw", "place"), BAD, ids=lambda part: part["kind"] if isinstance(part, dict) else part)
def test_what_makes_no_sense_is_refused_with_its_reason(store, raw, place):
    with store.write() as session, pytest.raises(Refused, match=re.escape(place)) as refused:
        log.accept(session, raw, 5)
    assert refused.value.code == "invalid_entry"
    assert len(str(refused.value)) < 300


@pytest.mark.parametrize("name", DESCRIBES)
@pytest.mark.parametrize("place", ["before", "behind fill bytes", "between scans"])
def test_a_picture_that_says_more_than_the_picture_is_refused_wherever_it_says_so(store, name, place):
    one = DESCRIBES[name]
    pictures = {"before": f.jpeg_of(f.JFIF, one), "behind fill bytes": f.jpeg_of(f.JFIF, b"\xff\xff" + one), "between scans": f.jpeg_of(f.JFIF, TABLE, SCAN, one)}
    with store.write() as session, pytest.raises(Refused, match="what the camera wrote into it"):
        log.accept(session, f.photo(PIECE, pictures[place]), 5)


def test_a_picture_of_several_scans_with_fill_bytes_is_taken(store):
    with store.write() as session:
        assert log.accept(session, f.photo(PIECE, f.jpeg_of(f.JFIF, b"\xff\xff" + TABLE, SCAN, TABLE, SCAN)), 5) == "stored"


def test_codes_hold_no_signs_that_are_taken_for_each_other():
    assert not any(re.match(CODE, f"{sign}AAA") for sign in "01OIoi -")
    assert all(re.match(CODE, f"{sign}AAA") for sign in "ABCDEFGHJKLMNPQRSTUVWXYZ23456789")


def test_photos_are_read_without_their_picture_and_alone_with_it(store):
    raw = f.photo(PIECE)
    with store.write() as session:
        log.accept(session, raw, 5)
        [read] = log.entries(session)
        assert read["body"] == {"width": 4, "height": 3, "caption": "Demo"} and read["received_ms"] == 5
        assert base64.b64encode(log.photo(session, raw["id"])).decode() == f.TINY_JPEG
