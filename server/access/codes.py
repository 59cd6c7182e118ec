"""Pure: one-time codes that people type, and tokens that devices keep. Only their digests are ever stored."""

import hashlib
import secrets

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's base 32: no I, L, O, U
LENGTH = 10  # 50 bits, for ten minutes and ten wrong tries a minute
LOOK_ALIKES = str.maketrans({"O": "0", "I": "1", "L": "1"})


def new_code() -> str:
    """A code to type."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))


def grouped(code: str) -> str:
    """As it is shown: two groups."""
    return f"{code[: LENGTH // 2]} {code[LENGTH // 2 :]}"


def as_meant(typed: str) -> str:
    """What a person meant to type: small letters, blanks, hyphens and look-alikes do not matter."""
    return "".join(c for c in typed.upper().translate(LOOK_ALIKES) if c in ALPHABET)[: LENGTH + 1]


def new_token() -> str:
    """A credential of 256 bits."""
    return secrets.token_urlsafe(32)


def seal(secret: str) -> str:
    """What is stored in its place. A plain digest will do: the secrets are random, not chosen by people."""
    return hashlib.sha256(secret.encode()).hexdigest()
