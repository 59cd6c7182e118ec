"""Pure: the order of a session's runs from its seed. Its twin is static/plan/order.js; anyone can work it out again with SHA-256.

Blocks: every glass but the reference once, sorted by the hash of 'seed|block|glass'. The reference stands first, in the middle and last, so that drift shows.
"""

from hashlib import sha256

MOST_RUNS = 300
LETTERS = "ACDEFHJKLMNPRTVWXY"  # told apart at a glance, also in a dim room


def _hash(*parts: object) -> str:
    return sha256("|".join(str(part) for part in parts).encode()).hexdigest()


def _codes(seed: str, count: int) -> list[str]:
    """Two letters for each run's dish, no two alike."""
    taken: list[int] = []
    for run in range(count):
        place = int(_hash(seed, "code", run)[:8], 16) % len(LETTERS) ** 2
        while place in taken:
            place = (place + 1) % len(LETTERS) ** 2
        taken.append(place)
    return [LETTERS[place // len(LETTERS)] + LETTERS[place % len(LETTERS)] for place in taken]


def runs_of(seed: str, glasses: int, repeats: int, reference: int | None) -> list[dict]:
    """Runs in order: {glass, block, code, is_reference}; glass counts from 0, block is None for the reference. Raises ValueError for more than MOST_RUNS."""
    if glasses * repeats > MOST_RUNS:
        raise ValueError(f"more than {MOST_RUNS} runs")
    tested = [i for i in range(glasses) if i != reference]
    order = [(i, block) for block in range(repeats) for _key, i in sorted((_hash(seed, block, i), i) for i in tested)]
    if reference is not None:
        half = len(order) // 2
        middle = [(reference, None)] if half else []
        order = [(reference, None), *order[:half], *middle, *order[half:], (reference, None)]
    codes = _codes(seed, len(order))
    return [{"glass": i, "block": block, "code": code, "is_reference": block is None} for (i, block), code in zip(order, codes, strict=True)]
