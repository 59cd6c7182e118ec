"""Whether what was sent is what arrived. A request may carry the Content-Digest of its body (RFC 9530); answers carry the same over their text before it is compressed (Unencoded-Digest, IETF draft-ietf-httpbis-unencoded-digest).

TLS guards the way over the network. A plain line on one's own machine, a proxy that rewrites, or a faulty memory does not, and one changed sign in an entry would be stored as if a person had meant it.
"""

import base64
import binascii
import hashlib
import re

FIELD, OF_ANSWERS = "Content-Digest", "Unencoded-Digest"
_SHA256 = re.compile(r"(?:^|,)\s*sha-256=:([A-Za-z0-9+/=]*):")


def digest_of(content: bytes) -> str:
    """The field's value for these bytes."""
    return f"sha-256=:{base64.b64encode(hashlib.sha256(content).digest()).decode()}:"


def fits(field: str, content: bytes) -> bool:
    """Whether the bytes are those that a field speaks of; True for a field without a SHA-256, which tells nothing here."""
    found = _SHA256.search(field)
    try:
        return found is None or base64.b64decode(found[1], validate=True) == hashlib.sha256(content).digest()
    except binascii.Error:
        return False
