"""Own glasses: stored once as typed, refused with the place named, replaced but never lost."""

import json

import pytest
from pydantic import ValidationError

from server.errors import Differs, Missing, Refused
from server.glass import own
from server.store.once import digest
from tests.entries import entry, new_id

BODY = {
    "name": "Test glass (invented)", "family": "natron", "period": "", "region": "", "source": "invented", "note": "two\nlines",
    "surface": "section", "replaces": "",
    "amounts": [{"name": "SiO2", "text": "69,5", "unit": "wt"}, {"name": "Na2O", "text": "16.0", "unit": "wt"}, {"name": "CaO", "text": "8", "unit": "wt"}, {"name": "Al2O3", "text": "3.0", "unit": "wt"}, {"name": "MgO", "text": "<0.5", "unit": "wt"}, {"name": "K2O", "text": "bd", "unit": "wt"}, {"name": "Co", "text": "120", "unit": "ppm"}],
}


def glass_entry(**changes) -> dict:
    return entry("glass.added", new_id(), 0, {**BODY, **changes})


def add(store, raw: dict) -> str:
    with store.write() as session:
        return own.accept(session, raw, 1)


def test_stored_once_and_as_typed(store):
    raw = glass_entry()
    assert add(store, raw) == "stored"
    assert add(store, raw) == "same"
    with store.read() as session:
        glass = own.find(session, raw["subject"])
        assert [g.key for g in own.all_glasses(session)] == [f"own/{raw['subject']}"]
    assert glass.published["SiO2"] == "69,5 wt%"
    assert glass.published["MgO"] == "<0.5 wt%"
    assert glass.report["total_wt"] == pytest.approx(69.5 + 16 + 8 + 3 + 0.012 * 1.2715, abs=1e-4)


def test_other_content_under_the_same_id_is_refused(store):
    raw = glass_entry()
    add(store, raw)
    with pytest.raises(Differs):
        add(store, {**raw, "body": {**BODY, "name": "Another"}})


@pytest.mark.parametrize(("changes", "place"), [
    ({"name": ""}, "name"), ({"name": "   "}, "name"), ({"name": "a\x00b"}, "name"), ({"name": "x" * 121}, "name"), ({"name": 5}, "name"),
    ({"surface": "burnt"}, "surface"), ({"amounts": []}, "amounts"), ({"amounts": [{"name": "SiO2", "text": 70, "unit": "wt"}]}, "text"),
    ({"amounts": [{"name": "SiO2", "text": "-1", "unit": "wt"}]}, "SiO2"), ({"amounts": [{"name": "Xy", "text": "1", "unit": "wt"}]}, "Xy"),
    ({"amounts": [{"name": "SiO2", "text": "50", "unit": "wt"}] * 2}, "SiO2"), ({"replaces": "nobody"}, "replaces"), ({"extra": 1}, "extra"),
])
def test_refused_naming_the_place(store, changes, place):
    with pytest.raises(Refused) as caught:
        add(store, glass_entry(**changes))
    assert place in caught.value.message


def test_a_replaced_glass_leaves_the_list_but_stays(store):
    first = glass_entry()
    add(store, first)
    second = glass_entry(name="Corrected", replaces=first["subject"])
    add(store, second)
    with store.read() as session:
        assert [g.name for g in own.all_glasses(session)] == ["Corrected"]
        assert own.find(session, first["subject"]).name == BODY["name"]


def test_a_weathered_surface_is_kept_but_not_estimated(store):
    raw = glass_entry(surface="weathered")
    add(store, raw)
    with store.read() as session:
        assert own.find(session, raw["subject"]).report["status"] == "refused"


def test_missing(store):
    with store.read() as session, pytest.raises(Missing):
        own.find(session, new_id())


def test_row_class_refuses_wrong_types():
    with pytest.raises(ValidationError):
        own.OwnGlass.model_validate({"id": "x", "seq": "not a number", "amounts": json.dumps([])})


def test_the_seal_of_an_entry_made_before_tables_could_be_brought_in_is_unchanged():
    """The seal was taken with the program of before; another one would make an entry offered again differ from itself."""
    body = {"name": "Old entry (invented)", "family": "natron", "period": "", "region": "", "source": "", "note": "", "surface": "not stated", "replaces": "",
            "amounts": [{"name": "SiO2", "text": "69,5", "unit": "wt"}, {"name": "Na2O", "text": "16", "unit": "wt"}]}
    raw = {"id": "018f0000-0000-7000-8000-000000000001", "kind": "glass.added", "subject": "018f0000-0000-7000-8000-000000000002", "n": 0,
           "device": "018f0000-0000-7000-8000-0000000000d1", "at_ms": 1790000000000, "body": body}
    assert digest(own.EntryIn.model_validate(raw)) == "5d4043d4b8e6778c10a7ec9de8ee44c2a09878f9e410539c8b4f7d5c304fceed"
    raw["body"] = {**body, "method": "xrf"}
    assert digest(own.EntryIn.model_validate(raw)) != "5d4043d4b8e6778c10a7ec9de8ee44c2a09878f9e410539c8b4f7d5c304fceed"


def test_what_a_table_said_is_kept_beside_what_was_understood(store):
    amounts = [{"name": "SiO2", "text": "69.5", "unit": "wt", "raw": "69,5", "heading": "SiO₂ (Gew.-%)", "sd": 0.4}, {"name": "Na2O", "text": "16.2", "unit": "wt", "raw": "16,2 ± 0,2", "heading": "", "sd": 0.2}]
    raw = glass_entry(amounts=amounts, method="portable-xrf", n=3)
    assert add(store, raw) == "stored" and add(store, raw) == "same"
    with store.read() as session:
        glass = own.find(session, raw["subject"])
        assert own.names(session) == {BODY["name"].lower()}
    assert glass.originals == {"SiO2": "SiO₂ (Gew.-%): 69,5, sd 0.4", "Na2O": "16,2 ± 0,2"}
    assert (glass.method, glass.count, glass.published["SiO2"]) == ("portable-xrf", "3", "69.5 wt%")


@pytest.mark.parametrize("changes", [{"method": "guess"}, {"n": 0}, {"n": "3"}, {"amounts": [{"name": "SiO2", "text": "70", "unit": "wt", "sd": -1}]}, {"amounts": [{"name": "SiO2", "text": "70", "unit": "wt", "raw": "x" * 81}]}])
def test_what_a_table_cannot_say_is_refused(store, changes):
    with pytest.raises(Refused):
        add(store, glass_entry(**changes))


def test_the_method_of_analysis_and_given_sd_widen_the_estimate(store):
    """Same glass: certified, portable XRF, and with a sd of 2 wt% given for one oxide."""
    doubted = [{**a, "sd": 2.0} if a["name"] == "SiO2" else a for a in BODY["amounts"]]
    entries = [glass_entry(method="certified"), glass_entry(method="portable-xrf"), glass_entry(method="certified", amounts=doubted)]
    for raw in entries:
        add(store, raw)
    with store.read() as session:
        known, coarse, spread = (own.find(session, raw["subject"]).report for raw in entries)
    assert known["points"]["softening"]["t_c"] == coarse["points"]["softening"]["t_c"]
    for wider in (coarse, spread):
        assert wider["points"]["softening"]["u_k"] > known["points"]["softening"]["u_k"]
        assert wider["analysis_u"]["softening"] > known["analysis_u"]["softening"] > 0


def test_an_own_glass_is_handed_on_as_it_came(store):
    plain, told = glass_entry(), glass_entry(method="xrf", n=2, amounts=[{"name": "SiO2", "text": "70", "unit": "wt", "raw": "70,0", "sd": 0.5}])
    for raw in (told, plain):
        add(store, raw)
    with store.read() as session:
        assert own.entries(session) == sorted((plain, told), key=lambda e: e["id"])


def test_the_same_glass_under_another_entry_number_is_the_same(store):
    """A bench book of before kept no entry number and hands a glass on with the glass's own."""
    raw = glass_entry()
    add(store, raw)
    assert add(store, {**raw, "id": raw["subject"]}) == "same"
    for changed in ({"body": {**BODY, "name": "Another"}}, {"at_ms": raw["at_ms"] + 1}):
        with pytest.raises(Differs):
            add(store, {**raw, "id": raw["subject"], **changed})
