"""The fields of a plain form (application/x-www-form-urlencoded, WHATWG URL Standard 5.1), without a library of forms for a few short lines of text."""

from urllib.parse import parse_qsl

from server.errors import Refused

MOST_FIELDS = 40


def fields(body: bytes, longest: int = 2000) -> dict[str, str]:
    """Name -> text of each field, the last one of a name. Raises Refused for what no form of ours sends."""
    try:
        told = dict(parse_qsl(body.decode("utf-8"), keep_blank_values=True, max_num_fields=MOST_FIELDS, strict_parsing=bool(body)))
    except ValueError:
        raise Refused("This is not the form of this page. Load it anew.", code="bad_form") from None
    if any(len(text) > longest for text in told.values()):
        raise Refused(f"A field holds more than {longest} characters.", code="bad_form")
    return told
