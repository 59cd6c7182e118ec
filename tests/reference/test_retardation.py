"""Colours between crossed polarisers against the CIE's own figures, a general colour library and published interference colours."""

import csv
from pathlib import Path

import numpy as np
import pytest

from server.physics import retardation
from server.physics.table import table

VALUES = Path(__file__).parent / "values" / "interference.csv"


def test_white_point_of_d65():
    """CIE 015:2018: D65 with the 2° observer has x = 0.31272, y = 0.32903."""
    white = retardation.white()
    assert white[:2] / white.sum() == pytest.approx([0.31272, 0.32903], abs=2e-5)
    assert retardation.srgb(white).tolist() == [255, 255, 255]


def test_tables_keep_the_cies_definitions():
    """y̅ is V(λ), 1 at 555 nm; D65 is 100 at 560 nm; the three functions enclose equal areas (CIE 015)."""
    data = table("colour")
    waves = data["from_nm"] + data["step_nm"] * np.arange(len(data["d65"]))
    assert data["y_bar"][list(waves).index(555)] == 1.0
    assert data["d65"][list(waves).index(560)] == 100.0
    assert waves[-1] == 780
    areas = [sum(data[name]) for name in ("x_bar", "y_bar", "z_bar")]
    assert areas == pytest.approx([21.3714, 21.3711, 21.3715], abs=2e-3)


@pytest.mark.parametrize("row", list(csv.DictReader(VALUES.read_text().splitlines())), ids=lambda row: row["nm"])
def test_colour_science_agrees(row):
    """values/interference.csv: made once with the colour-science library 0.4.7 from its own 1 nm tables, CIE sum, sRGB without adaptation."""
    nm = float(row["nm"])
    assert retardation.xyz(nm) == pytest.approx([float(row[k]) for k in "xyz"], abs=0.002)
    assert np.abs(retardation.srgb(retardation.xyz(nm)) - [int(row[k]) for k in "rgb"]).max() <= 4


# The scale of interference colours for air wedge and quartz wedge as handbooks print it after Quincke (from memory), with the words of ours that it admits.
QUINCKE = [
    (0, "black", {"black"}), (40, "iron grey", {"dark grey"}), (97, "lavender grey", {"blue-grey"}), (158, "greyish blue", {"blue-grey", "pale grey"}),
    (218, "clear grey", {"pale grey", "white"}), (259, "white", {"white"}), (281, "straw yellow", {"cream", "pale yellow"}),
    (332, "bright yellow", {"pale yellow", "yellow"}), (430, "brownish yellow", {"yellow", "orange"}), (505, "reddish orange", {"orange", "red"}),
    (536, "red", {"red"}), (575, "violet", {"purple", "violet"}), (589, "indigo", {"purple", "blue"}), (664, "sky blue", {"sky blue"}),
    (747, "green", {"green"}), (843, "yellowish green", {"yellow-green", "green"}), (910, "pure yellow", {"yellow"}), (948, "orange", {"orange"}),
    (1101, "dark violet red", {"violet", "pink"}), (1128, "light bluish violet", {"violet", "blue"}), (1151, "indigo", {"blue"}), (1334, "sea green", {"green"}),
]  # fmt: skip


@pytest.mark.parametrize(("nm", "printed", "admitted"), QUINCKE, ids=lambda x: str(x) if not isinstance(x, set) else "")
def test_words_follow_the_printed_scale(nm, printed, admitted):
    assert retardation.name(nm) in admitted, printed


def hue(nm: float) -> float:
    """Direction from white in CIE u'v', degrees: red near 0, yellow near 60, green near 150, blue near 260."""
    def uv(v):
        return np.array([4 * v[0], 9 * v[1]]) / (v[0] + 15 * v[1] + 3 * v[2])

    du, dv = uv(retardation.xyz(nm)) - uv(retardation.white())
    return float(np.degrees(np.arctan2(dv, du)) % 360)


@pytest.mark.parametrize("order_nm", [550, 1100])
def test_red_turns_to_blue_at_the_ends_of_the_orders(order_nm):
    """Optical mineralogy: the colours pass from red to blue near 550 and 1100 nm, the ends of the first and second order."""
    assert hue(order_nm - 50) > 300 or hue(order_nm - 50) < 60
    assert 200 < hue(order_nm + 60) < 290


def test_darkest_after_grey_at_the_sensitive_tint():
    """The tint of passage lies at 551 nm in handbooks (550 to 575 in use): where the eye sees least light."""
    nm = np.arange(300, 800)
    assert nm[np.argmin(retardation.xyz(nm)[:, 1])] == pytest.approx(551, abs=5)


def test_tension_along_the_slow_mark_adds():
    """Vitreous silica: p11 0.121, p12 0.270 (Primak & Post 1959): light swinging along the pull meets the higher index, so C is positive."""
    n, e, nu, p11, p12 = 1.46, 73e9, 0.17, 0.121, 0.270
    c = n**3 / 2 * (p12 - p11) * (1 + nu) / e
    assert 3.4e-12 < c < 4.0e-12  # data sheets of silica: 3.4 to 3.5e-12 per Pa
    soda, _ = retardation.stress_optic({"SiO2": 72.0, "Na2O": 14.0})
    assert np.sign(soda) == np.sign(c)
