"""The order of a session: properties, and worked out anew with SHA-256 alone."""

from collections import Counter
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.plan.order import LETTERS, MOST_RUNS, runs_of

PLANS = st.tuples(st.text(st.characters(codec="ascii", exclude_characters="|"), min_size=1, max_size=12), st.integers(1, 10), st.integers(1, 8)).flatmap(
    lambda p: st.tuples(st.just(p[0]), st.just(p[1]), st.just(p[2]), st.one_of(st.none(), st.integers(0, p[1] - 1)))
)


@given(PLANS)
def test_every_block_holds_every_glass_once_and_the_reference_frames_them(plan):
    """Randomised complete blocks: Fisher, The Design of Experiments (1935), chapter 4; the framing reference is common practice, no source."""
    seed, glasses, repeats, reference = plan
    runs = runs_of(*plan)
    tested = [i for i in range(glasses) if i != reference]
    inner = [run for run in runs if not run["is_reference"]]
    for block in range(repeats):
        assert sorted(run["glass"] for run in inner if run["block"] == block) == tested
    assert [run["block"] for run in inner] == sorted(run["block"] for run in inner)
    places = [i for i, run in enumerate(runs) if run["is_reference"]]
    assert places == ([] if reference is None else [0, len(inner) // 2 + 1, len(runs) - 1][:: 1 if len(inner) > 1 else 2])
    assert all(run["glass"] == reference for run in runs if run["is_reference"])
    codes = [run["code"] for run in runs]
    assert len(set(codes)) == len(codes) and all(len(code) == 2 and set(code) <= set(LETTERS) for code in codes)
    assert runs == runs_of(*plan)


def test_the_order_is_that_of_the_hashes():
    """NIST FIPS 180-4 (SHA-256), with the standard library: nothing of ours decides the order."""
    keys = {i: sha256(f"thrush|1|{i}".encode()).hexdigest() for i in (0, 2, 3, 4)}
    assert [run["glass"] for run in runs_of("thrush", 5, 2, 1) if run["block"] == 1] == sorted(keys, key=keys.get)


def test_no_glass_is_favoured_over_many_seeds():
    """Each of four glasses comes first in a quarter of 4000 seeds: chi-square with 3 degrees of freedom stays under its 99.9 % point, 16.27 (handbook tables)."""
    first = Counter(runs_of(f"seed{i}", 4, 1, None)[0]["glass"] for i in range(4000))
    assert sum((n - 1000) ** 2 / 1000 for n in first.values()) < 16.27


def test_too_many_runs_are_refused():
    with pytest.raises(ValueError, match="more than 300"):
        runs_of("x", 20, MOST_RUNS // 20 + 1, None)
