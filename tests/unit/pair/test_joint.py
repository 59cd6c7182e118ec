"""A pair judged: roles and signs, errors carried, refusals, the words of the answer."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.glass.catalog import glasses
from server.pair import drawing, view
from server.pair.joint import FORMS, Asked, judge, lacks
from server.physics import seal

GLASSES = glasses()
FIT = sorted(key for key, glass in GLASSES.items() if not lacks(glass))
UNFIT = sorted(set(GLASSES) - set(FIT))
KEYS = st.sampled_from(FIT)


def asked(a: str, b: str, form: str = "strip", path_mm: float = 5.0, share: float = 0.5) -> Asked:
    return Asked(GLASSES[a], GLASSES[b], form, path_mm, share)


def tight(key: str, alpha: float, u: float):
    """A catalogue glass with another expansion, known to ± u."""
    glass = GLASSES[key]
    report = {**glass.report, "alpha": {"value_1e7_k": alpha, "u_1e7_k": u, "u95_1e7_k": 2 * u, "state": "answered"}}
    return replace(glass, key=f"{key}-{alpha}", report=report)


@settings(max_examples=60, deadline=None)
@given(KEYS, KEYS)
def test_exchange_turns_the_sign_only(a, b):
    one, other = judge(asked(a, b)), judge(asked(b, a))
    assert other["strain"]["value"] == -one["strain"]["value"]
    for name in ("u", "u95", "set_c", "set_u_k"):
        assert other["strain"][name] == pytest.approx(one["strain"][name])
    assert other["chances"] == pytest.approx(one["chances"]) and other["span"] == one["span"]
    assert [r["mpa"] for r in other["rows"][:2]] == pytest.approx([r["mpa"] for r in one["rows"][1::-1]])
    assert other["polariser"]["nm"] == pytest.approx(one["polariser"]["nm"])


@pytest.mark.parametrize("form", FORMS)
def test_a_glass_on_itself_is_free_of_stress(form):
    pair = asked(FIT[0], FIT[0], form)
    made = judge(pair)
    assert all(row["mpa"] == 0 for row in made["rows"]) and made["polariser"]["nm"] == 0 and made["thread"]["bow_mm"] == 0
    assert view.lead(pair, made).startswith("The same glass twice")


def test_the_softer_sets_the_point():
    a, b = GLASSES["ver-ven-2"], GLASSES["modern-fuse96"]
    made = judge(Asked(a, b, "strip", 5, 0.5))
    assert made["strain"]["softer"] == 1
    assert made["strain"]["set_c"] == seal.set_point_c(b.report["vft"]) < seal.set_point_c(a.report["vft"])


def test_settled_pairs_are_said_plainly():
    """Expansions 12 points apart at ± 1 are some 550 ppm, far from the next class; 0.3 points at ± 0.3 are low."""
    bead, trail = tight("modern-fuse96", 104.0, 1.0), tight("modern-fuse96", 92.0, 1.0)
    pair = Asked(bead, trail, "trail", 2, 0.5)
    assert view.lead(pair, judge(pair)).startswith("High risk of cracks: the trail would be in compression, ")
    alike = Asked(tight("modern-fuse96", 96.3, 0.3), tight("modern-fuse96", 96.0, 0.3), "trail", 2, 0.5)
    assert view.lead(alike, judge(alike)).startswith("No predicted conflict: the trail would be in slight compression, 1.0 ± 1.3 MPa")


def test_nobody_can_say_when_classes_are_spanned():
    wide = Asked(tight("modern-fuse96", 103.0, 6.0), tight("modern-fuse96", 96.0, 6.0), "strip", 5, 0.5)
    made = judge(wide)
    assert not view.settled(made) and view.head(made).startswith("Cannot say: high risk is the likeliest, about 6 in 10")
    near = Asked(tight("modern-fuse96", 97.0, 1.8), tight("modern-fuse96", 96.0, 1.8), "strip", 5, 0.5)
    assert view.head(judge(near)) == "No predicted conflict, but the ± is too wide to promise it"
    assert "not settled either" in view.direction(near, judge(near))


SAID = ("low risk", "watch", "high risk")


def verdict_of(strain: float, u: float, u95: float, gap: float) -> tuple[dict, str]:
    """A judgement made of its four figures alone, and its headline."""
    made = {
        "strain": {"value": strain, "u": u, "u95": u95, "gap_1e7_k": gap},
        "chances": [float(x) for x in seal.class_chances(strain, u, u95)],
        "best": int(seal.class_of(strain)),
        "span": tuple(int(x) for x in seal.class_span(strain, u)),
    }
    return made, view.head(made)


@settings(max_examples=2000, deadline=None)
@given(st.floats(-900e-6, 900e-6), st.floats(1e-6, 900e-6), st.floats(1.0, 4.0), st.floats(200, 900))
def test_the_headline_never_reassures_against_its_own_chances(strain, u, widening, cooled_k):
    made, head = verdict_of(strain, u, u * widening, strain / cooled_k * 1e7)
    low, watch, high = made["chances"]
    if high >= 0.3:
        assert head.startswith(("Cannot say", "High risk", "Watch this pair")) and "high risk" in head.lower()
    if max(low, watch, high) < 0.6:
        named = head.split(",")[0].replace("Cannot say: ", "") if head.startswith("Cannot say") else "low risk"
        index = next(i for i, word in enumerate(SAID) if word in named)
        assert made["chances"][index] >= max(low, watch, high) - 0.1  # said alike: within one in ten
        assert ("the likeliest" not in head) or made["chances"][index] == max(low, watch, high)
    if head.startswith("No predicted conflict"):
        assert high < 0.3 and low == max(low, watch, high)
    if head == "High risk of cracks":
        assert high > 0.6


def test_a_wide_pair_of_the_catalogue_is_not_called_safe():
    pair = asked("lit-rom-sb", "modern-soft104", "trail", 2)
    made = judge(pair)
    assert made["chances"][2] > 0.3
    assert view.lead(pair, made).startswith("Cannot say: high risk is ") and "cannot promise it" in view.trade(made)


@pytest.mark.parametrize("form", FORMS)
def test_stress_grows_with_misfit_and_carries_its_error(form):
    """Each ± is at least the misfit's share of the stress."""
    pair = Asked(tight("modern-fuse96", 106.0, 1.0), tight("modern-fuse96", 96.0, 1.0), form, 5, 0.5)
    made = judge(pair)
    for row in made["rows"]:
        assert row["u"] >= abs(row["mpa"]) * made["strain"]["u"] / abs(made["strain"]["value"]) * 0.999
        assert row["u95"] > row["u"]


def test_refused_glasses_lack_something():
    assert UNFIT and all(lacks(GLASSES[key]) for key in UNFIT)


def test_every_form_is_drawn_with_both_words():
    for form in FORMS:
        for strain in (1e-4, -1e-4):
            drawn = drawing.picture(form, strain)
            assert {label["kind"] for label in drawn["labels"]} == {"tension", "compression"}
            assert {label["side"] for label in drawn["labels"]} == {"a", "b"}
    assert drawing.picture("core", 1e-4)["areas"][1]["kind"] == "tension"
    assert drawing.picture("trail", 1e-4)["areas"][2]["kind"] == "compression"


@pytest.mark.parametrize("chance", [0.0, 0.049, 0.06, 0.5, 0.94, 0.96, 1.0])
def test_chances_in_words(chance):
    words = view.in_ten(chance)
    assert words == ("hardly any chance" if chance < 0.05 else "almost sure" if chance > 0.95 else f"about {max(1, min(9, round(chance * 10)))} in 10")

