"""The rules of kin against published glasses: each must land in the family that its paper gives it, and known misfits must not."""

import pytest

from server.glass.catalog import find
from server.glass.kin import kin_of, most_wt
from server.physics.kin_report import kin_report
from server.physics.table import table

FREESTONE = "Freestone, Gorin-Rosen & Hughes 2000, Table 2"
VERITA = "Verità, Renier & Zecchin 2002, full table"
WINDOWS = "Verità 2005, Italian window glass, table of groups"
SAN_VINCENZO = "Verità 2005, Table 2, San Vincenzo al Volturno"
BARRERA = "Barrera & Velde 1989, full table"
JANSSENS = "Janssens, De Raedt, Schalm & Veeckman 1998, full table"
SCHALM = "Schalm, Wouters, Caluwé & Janssens 2005, Table Ia"
JACKSON = "Jackson 1992, printed in Baxter 1994, Table A1"
BRILL = "Brill 1999 vol. 2, reference glass made after an ancient kind (figures from memory)"
CERTIFICATE = "certificate of the reference glass (figures from memory)"
CRYSTAL = "Preston & Turner 1941, abstract"

# Means and pieces whose rule was not made from them
READ = [
    ("ver-roman-mean", "natron", VERITA), ("ver-emed-natron-mean", "natron", VERITA), ("ver-rom-19", "natron", VERITA), ("ver-rom-25", "natron", VERITA),
    ("ver-rom-62", "natron", VERITA), ("ver-med-29", "natron", VERITA), ("ver-med-38", "natron", VERITA), ("win-na1", "natron", WINDOWS),
    ("fre-levii-mean", "natron", FREESTONE), ("fre-levi-ap-mean", "natron", FREESTONE), ("fre-levi-dor-mean", "natron", FREESTONE),
    ("fre-ban-54", "natron", FREESTONE), ("svv-44709w", "natron", SAN_VINCENZO), ("svv-44714r", "natron", SAN_VINCENZO), ("svv-44716y", "natron", SAN_VINCENZO),
    ("svv-44727s", "natron", SAN_VINCENZO), ("svv-10109", "natron", SAN_VINCENZO), ("jac-lei-mean", "natron", JACKSON), ("jac-man-mean", "natron", JACKSON),
    ("fre-ban-mean", "plant_ash", FREESTONE), ("fre-ban-46", "plant_ash", FREESTONE), ("fre-ban-49", "plant_ash", FREESTONE), ("fre-ban-59", "plant_ash", FREESTONE),
    ("ver-venice-mean", "plant_ash", VERITA), ("ver-med-plantash-mean", "plant_ash", VERITA), ("ver-ven-1", "plant_ash", VERITA), ("ver-ven-2", "plant_ash", VERITA),
    ("ver-med-40", "plant_ash", VERITA), ("ver-med-51", "plant_ash", VERITA), ("win-na2", "plant_ash", WINDOWS), ("win-na3", "plant_ash", WINDOWS),
    ("win-na4", "plant_ash", WINDOWS), ("bar-soda-mean", "plant_ash", BARRERA), ("ant-sodic-mean", "plant_ash", JANSSENS),
    ("win-ca1-per", "hlla", WINDOWS), ("win-ca1-rom", "hlla", WINDOWS), ("win-ca1-flo", "hlla", WINDOWS), ("ant-calcic-mean", "hlla", JANSSENS), ("bar-hlla-mean", "hlla", BARRERA),
    ("modern-crystal20", "lead_potash", CRYSTAL), ("modern-crystal34", "lead_potash", CRYSTAL),
    ("modern-float", "modern_soda_lime", "Seward & Vascott 2005"), ("modern-container", "modern_soda_lime", "Seward & Vascotto 2005"),
    ("modern-boro33", "borosilicate", "data sheet of a 3.3 borosilicate glass"), ("ref-bam-s005a", "modern_soda_lime", "BAM-S005A certificate"),
]
# The limits of these rules were set round the very table, so this only shows that they were set down rightly
SAME_TABLE = [
    ("fre-levi-ap-mean", "levantine_1", FREESTONE), ("fre-levi-dor-mean", "levantine_1", FREESTONE), ("fre-levii-mean", "levantine_2", FREESTONE),
    ("bar-potash-mean", "wood_ash", BARRERA), ("bar-cnl-23", "wood_ash", BARRERA), ("bar-cnl-42p", "wood_ash", BARRERA),
    ("sch-hlla-a", "hlla", SCHALM), ("sch-hlla-b", "hlla", SCHALM), ("sch-hlla-c", "hlla", SCHALM), ("sch-hlla-d", "hlla", SCHALM), ("sch-hlla-e", "hlla", SCHALM),
]
# Reference glasses recalled from certificates and from Brill's table
RECALLED = [
    ("ref-arch-a", "plant_ash", BRILL), ("ref-arch-b", "natron", BRILL), ("ref-arch-c", "lead_barium", BRILL), ("ref-arch-d", "wood_ash", BRILL),
    ("ref-nist-620", "modern_soda_lime", CERTIFICATE), ("ref-nist-621", "modern_soda_lime", CERTIFICATE), ("ref-nist-1830", "modern_soda_lime", CERTIFICATE),
    ("ref-nbs-93a", "borosilicate", CERTIFICATE), ("ref-nbs-89", "lead_potash", CERTIFICATE),
]


def fits(key: str) -> set[str]:
    """Keys of the kinds that a catalogue glass is consistent with."""
    return {line["key"] for line in kin_of(find(key))["told"] if line["verdict"] == "consistent"}


@pytest.mark.parametrize(("key", "kind", "source"), READ + SAME_TABLE + RECALLED)
def test_published_glasses_land_in_their_family(key, kind, source):
    assert kind in fits(key), source


FAMILIES = {kind["key"] for kind in table("kin")["kinds"] if "within" not in kind}


@pytest.mark.parametrize(("key", "kind", "source"), [row for row in READ if row[1] in FAMILIES and row[0] != "modern-container"])
def test_and_in_no_other_family(key, kind, source):
    assert fits(key) & FAMILIES == {kind}, source


# Every group recalled from the literature: figures and limits may come from the same memory, so this is a check of sanity, not of the rule
FROM_MEMORY = [
    ("lit-rom-sb", "roman_antimony", "after Jackson 2005"), ("lit-himt", "himt", "after Foy et al. 2003"), ("lit-himtb", "himt", "after Ceglia et al. 2015"),
    ("lit-foy21", "foy_2_1", "after Foy et al. 2003"), ("lit-foy32", "foy_3_2", "after Foy et al. 2003"), ("lit-eg1", "egypt_1", "after Gratuze & Barrandon 1990"),
    ("lit-eg2", "egypt_2", "after Gratuze & Barrandon 1990"), ("lit-sas1", "plant_ash", "after Mirti et al. 2008"), ("lit-sam1", "plant_ash", "after Schibille et al. 2018"),
    ("lit-tyre", "plant_ash", "after Freestone 2002"), ("lit-vnaal", "plant_ash_alumina", "after Dussubieux & Kusimba 2012"), ("lit-mnaal1", "mineral_alumina", "after Dussubieux et al. 2010"),
    ("lit-mnaal3", "mineral_alumina", "after Dussubieux et al. 2010"), ("lit-mkca", "low_lime_potash", "after Lankton & Dussubieux 2006"), ("lit-lmhk", "mixed_alkali", "after Henderson 1988"),
    ("lit-kelp", "kelp", "after Dungworth"), ("lit-hipb", "high_lead", "after Mecking 2013"), ("lit-cela", "lead_potash", "after Mecking 2013"), ("lit-slavla", "lead_potash", "after Besborodov 1957"),
]


@pytest.mark.parametrize(("key", "kind", "source"), FROM_MEMORY)
def test_recalled_groups_land_too(key, kind, source):
    assert find(key).from_memory
    assert kind in fits(key), source


def test_the_limit_of_natron_is_that_of_the_papers():
    """Sayre & Smith 1961 and Lilyquist & Brill 1993 (from memory); Siu, Henderson & Faber, Carthage (abstract read): 1.5 wt% of MgO and K2O."""
    for key, side in (("natron", "max"), ("plant_ash", "min")):
        when = next(kind for kind in table("kin")["kinds"] if kind["key"] == key)["when"]
        assert {condition["of"][0]: condition[side] for condition in when[:2]} == {"MgO": 1.5, "K2O": 1.5}


@pytest.mark.parametrize(("key", "told", "source"), [
    ("fre-ban-58", {"plant_ash": "near miss"}, f"{FREESTONE}: plant ash of Banias with K2O 1.46"),
    ("ver-ven-3", {"natron": "consistent"}, f"{VERITA}: Venetian plant ash, MgO 1.15 and K2O 1.45, that the rule takes for natron"),
    ("ant-potasso-calcic-mean", {}, f"{JANSSENS}: wood ash with Na2O 4.9, more than the rule allows"),
    ("ant-potassic-mean", {}, f"{JANSSENS}: potash glass with Na2O 6.0"),
    ("mod-rg1", {}, "npj Materials Degradation 4 (2020): K2O 5.4 with MgO 0.4"),
    ("chn-pbba-29u", {}, "Chinese set: lead-barium with BaO 2.0"),
    ("lit-eglba-co", {}, "after Shortland & Eremin 2006 (from memory): cobalt blue of Egypt with K2O 1.3"),
])
def test_known_misfits_are_told_as_they_are(key, told, source):
    """What the rules get wrong or leave open; never mended by moving a limit."""
    found = kin_of(find(key))
    assert {line["key"]: line["verdict"] for line in found["told"] if not line["within"]} == told, source


def test_nearest_names_the_oxide_that_is_against_it():
    nearest = kin_of(find("lit-eglba-co"))["nearest"]
    assert [line["key"] for line in nearest] == ["plant_ash"] and "K₂O 1.32, wants at least 1.5" in nearest[0]["rule"]


def test_modern_container_glass_raises_the_question():
    """Seward & Vascott 2005: by soda, potash and magnesia alone it reads as natron."""
    assert fits("modern-container") == {"natron", "modern_soda_lime"}


@pytest.mark.parametrize(("key", "kinds", "lacking"), [
    ("typ-rom1", {"natron"}, "Al₂O₃"), ("lit-merov", {"natron", "plant_ash"}, "K₂O"), ("ref-nist-612", {"natron", "plant_ash"}, "K₂O"), ("lit-rom-mn", {"roman_manganese"}, "Sb₂O₃"),
])
def test_what_was_not_reported_cannot_be_judged(key, kinds, lacking):
    """Typical table after Freestone (five oxides); Hoffmann et al. 2000 (three oxides); SRM 612 (four); Mn-decoloured glass without Sb."""
    cannot = {line["key"]: line["rule"] for line in kin_of(find(key))["cannot"]}
    assert kinds <= set(cannot) and all(lacking in cannot[kind] for kind in kinds)
    assert not kinds & fits(key)


def test_mixed_decolourants_of_romano_british_glass():
    """Jackson 1992 (Baxter 1994, Table A1): pieces with Mn and Sb both are mixed; pieces 3 and 61 hold Mn only. Pb 250–320, Cu 57–74 mg/kg on average."""
    for key in ("jac-001", "jac-041", "jac-051", "jac-101", "jac-lei-mean"):
        assert "two decolourants" in kin_of(find(key))["recycling"], key
    for key in ("jac-003", "jac-061"):
        assert "two decolourants" not in kin_of(find(key))["recycling"], key
    mean = find("jac-lei-mean")
    made = kin_report(mean.wt, most_wt(mean))["recycling"]
    lead = next(float(text.split()[1]) for text in made["raised"] if text.startswith("Pb"))
    assert 250 <= lead <= 320


@pytest.mark.parametrize(("key", "words", "source"), [
    ("ver-rom-19", "evaporitic", VERITA), ("ver-venice-mean", "salt plants", VERITA), ("bar-potash-mean", "unpurified wood ash", BARRERA), ("sch-hlla-d", "unpurified wood ash", SCHALM),
])
def test_phosphate_agrees_with_the_flux(key, words, source):
    """Bands of Stern 2017 (abstract read) on analyses of other papers."""
    assert words in kin_of(find(key))["phosphate"]["label"], source


@pytest.mark.parametrize("key", ["chn-hik-12-w", "chn-pbba-49-w", "bar-rou-42", "bar-bin-6"])
def test_weathered_or_wrong_analyses_say_nothing(key):
    """Weathered surfaces of the Chinese set; totals of 66.6 and 108.2 in Barrera & Velde 1989."""
    assert kin_of(find(key)) is None
