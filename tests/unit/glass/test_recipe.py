"""What a glass was made of, told: every part once, and the glasses it comes from."""

from server.glass.recipe import Part, grams, origins, parts, sentence

GLASS = {"key": "demo-base", "name": "Demo base", "mass_g": 20.0}


def test_a_recipe_as_the_first_version_wrote_it():
    made = {"glasses": [GLASS], "compounds": [{"compound": "cuo", "mass_g": 0.25, "purity": 1}, {"compound": "of-a-later-version", "mass_g": 1, "purity": 0.985}]}
    assert parts(made) == [Part(20.0, "Demo base", "demo-base"), Part(0.25, "copper oxide, black"), Part(1, "of-a-later-version", beside=" of 98.5 %")]
    assert sentence(made) == "20 g Demo base; 0.25 g copper oxide, black; 1 g of-a-later-version of 98.5 %"
    assert origins(made) == {"of": ["demo-base"], "copies": ""}


def test_a_replica_names_what_it_copies():
    made = {"glasses": [], "compounds": [], "materials": [{"name": "Demo sand", "mass_g": 370.125, "wt": {"SiO2": 99.6}}], "after": {"key": "demo-old", "name": "Demo old"}}
    assert sentence(made) == "370.125 g Demo sand, after Demo old"
    assert origins(made) == {"of": [], "copies": "demo-old"} and origins(None) == {}


def test_grams_keep_every_figure_and_no_zero():
    assert [grams(x) for x in (20.0, 0.28, 1234567.125, 0.0001)] == ["20", "0.28", "1234567.125", "0.0001"]
