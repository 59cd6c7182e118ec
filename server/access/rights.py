"""What each role may do, in one table. Whatever stands in no row is the desk's alone."""

import re

DESK, BENCH, GUEST, ANYBODY = "desk", "bench", "guest", "anybody"
RANK = {ANYBODY: 0, GUEST: 1, BENCH: 2, DESK: 3}

# (methods, address, role); the first row that fits counts. GET stands for HEAD too.
TABLE = [
    ("GET", r"/(join|health|sw\.js|manifest\.webmanifest|offline|isokom-ca\.crt|favicon\.ico)", ANYBODY),
    ("GET", r"/static/.*", ANYBODY),
    ("POST", r"/join", ANYBODY),
    ("GET POST", r"/(devices|connect|exchange|keeping)(/.*)?", DESK),
    ("POST", r"/sync/push", BENCH),
    ("POST", r"/(intake/preview|make/batch\.json)", BENCH),
    # A guest reads about published glasses. What was timed names pieces by their site, and own analyses tell of places: these, finds, people, sessions and packages are not a guest's.
    ("GET", r"/(sync|device)?", GUEST),  # of /sync and /device only the page itself: what is on them is the device's own
    ("GET", r"/glass/own/.*", BENCH),
    ("GET", r"/(glass|frag/glasses|cautions)(/.*)?", GUEST),
    ("GET", r".*", BENCH),
]
_ROWS = [(set(methods.split()), re.compile(address), role) for methods, address, role in TABLE]


def needed(method: str, path: str) -> str:
    """The least role that may ask this."""
    asked = "GET" if method in ("HEAD", "OPTIONS") else method
    return next((role for methods, address, role in _ROWS if asked in methods and address.fullmatch(path)), DESK)


def may(role: str, method: str, path: str) -> bool:
    """Whether a role may ask this."""
    return RANK[role] >= RANK[needed(method, path)]
