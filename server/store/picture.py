"""A picture inside an entry: made small on the tablet, and a JPEG that carries nothing but the picture (ITU-T T.81, annex B)."""

import base64
import binascii
import re
from collections.abc import Iterator
from typing import Annotated

from pydantic import AfterValidator, Field, StringConstraints

LONGEST_JPEG = 350_000  # characters of base64
LONGEST_SIDE_PX = 1280
START, END = b"\xff\xd8", b"\xff\xd9"
APP0, APP15, COMMENT, START_OF_SCAN, END_OF_IMAGE = 0xE0, 0xEF, 0xFE, 0xDA, 0xD9
JFIF = b"JFIF\0"  # ITU-T T.871: what APP0 says of every plain picture, its shape only
AFTER_A_SCAN = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")  # in a scan 0xFF is followed by 0 or is a restart


def segments(jpeg: bytes) -> Iterator[tuple[int, bytes]]:
    """(marker, content) of each segment, also of those between the scans. Raises ValueError where it is no JPEG or more follows its end."""
    at = len(START)
    while (found := jpeg[at : at + 1]) == b"\xff":
        while jpeg[at : at + 1] == b"\xff":  # fill bytes may stand before any marker
            at += 1
        marker, length = jpeg[at] if at < len(jpeg) else 0, int.from_bytes(jpeg[at + 1 : at + 3], "big")
        if marker == END_OF_IMAGE:
            if at + 1 != len(jpeg):
                raise ValueError("something stands behind the picture")
            return
        if length < 2:
            raise ValueError("the picture is no JPEG")
        yield marker, jpeg[at + 3 : at + 1 + length]
        at += 1 + length
        if marker == START_OF_SCAN:
            rest = AFTER_A_SCAN.search(jpeg, at)
            at = rest.start() if rest else len(jpeg)
    raise ValueError("the picture is no JPEG" if found else "the picture has no end")


def is_bare(jpeg: bytes) -> bool:
    """Whether only the picture is there: no word of camera, place, time or program (Exif, XMP, IPTC, comments). Raises ValueError."""
    found = list(segments(jpeg))
    if all(marker != START_OF_SCAN for marker, _ in found):
        raise ValueError("the picture is no JPEG")
    return not any(marker == COMMENT or APP0 < marker <= APP15 or (marker == APP0 and not content.startswith(JFIF)) for marker, content in found)


def _is_jpeg(text: str) -> str:
    """Base64 of a JPEG that carries the picture and nothing else."""
    try:
        found = base64.b64decode(text, validate=True)
    except binascii.Error as error:
        raise ValueError("the picture is not base64") from error
    if not (found.startswith(START + b"\xff") and found.endswith(END)):
        raise ValueError("the picture is no JPEG")
    if not is_bare(found):
        raise ValueError("the picture still carries what the camera wrote into it")
    return text


Jpeg = Annotated[str, StringConstraints(max_length=LONGEST_JPEG), AfterValidator(_is_jpeg)]
Side = Annotated[int, Field(ge=1, le=LONGEST_SIDE_PX)]
