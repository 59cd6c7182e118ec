"""datapackage.json and the README: types, units, sources, licence, and what was left out."""

import json

import pytest

from server.package.descriptor import field, left_out_words, schema
from server.package.gather import LeftOut
from server.package.tables import columns, tables
from tests.packages import CREATED, SESSION, odd_entries, packed, parts, put, table


@pytest.fixture
def made(store):
    put(store, odd_entries())
    return parts(packed(store))


def test_a_column_says_its_unit_in_words_and_by_itself():
    assert field({"name": "mass_g", "type": "number", "about": "mass", "unit": "g"}) == {"name": "mass_g", "type": "number", "description": "Mass, in g", "unit": "g"}
    assert field({"name": "id", "type": "uuid", "about": "number"}) == {"name": "id", "type": "string", "format": "uuid", "description": "Number"}


def test_a_table_refers_to_others_and_to_itself():
    found = {key["fields"]: key["reference"] for key in schema("pieces")["foreignKeys"]}
    assert found == {"find_id": {"resource": "finds", "fields": "find_id"}, "glass_key": {"resource": "glasses", "fields": "glass_key"}, "cut_from": {"resource": "", "fields": "piece_id"}}
    assert "foreignKeys" not in schema("finds") and schema("runs")["primaryKey"] == ["session_id", "run"]


def test_the_descriptor_names_what_is_in_the_package(made):
    about = json.loads(made["datapackage.json"])
    assert (about["profile"], about["created"], about["licenses"][0]["name"]) == ("tabular-data-package", CREATED, "CC-BY-4.0")
    assert "contributors" not in about
    assert [r["path"] for r in about["resources"]] == [f"{name}.csv" for name in tables()] and set(made) == {"datapackage.json", "README.txt", *(f"{name}.csv" for name in tables())}
    for resource in about["resources"]:
        assert [f["name"] for f in resource["schema"]["fields"]] == columns(resource["name"])
        assert resource["bytes"] == len(made[resource["path"]])


def test_sources_are_those_of_the_glasses_used(made, store):
    titles = [source["title"] for source in json.loads(made["datapackage.json"])["sources"]]
    cited = {row["source"] for row in table(packed(store), "glasses") if row["source"]}
    assert set(titles) == cited and "Invented figures" in titles and len(titles) == 2
    assert all(f"- {title}" in made["README.txt"].decode() for title in titles)


@pytest.mark.parametrize(("left_out", "words"), [
    (LeftOut(0, 0, 0), "Nothing was left out."),
    (LeftOut(1, 3, 9), "Left out, since what lay in the dishes is still covered: 1 blind session with plan and runs, 3 tests, in all 9 entries. They come along once their session is closed or uncovered."),
    (LeftOut(0, 1, 6), "Left out, since what lay in the dishes is still covered: 0 blind sessions with plan and runs, 1 test, in all 6 entries. They come along once their session is closed or uncovered."),
])
def test_what_is_left_out_in_words(left_out, words):
    assert left_out_words(left_out) == words


def test_what_was_left_out_stands_in_both(made):
    about = json.loads(made["datapackage.json"])
    assert (about["leftOut"]["sessions"], about["leftOut"]["tests"]) == (1, 2)
    assert about["leftOut"]["description"] in about["description"] and about["leftOut"]["description"] in made["README.txt"].decode()


def test_an_empty_bench_book_has_no_source(store):
    made = parts(packed(store, key="later"))
    assert "sources" not in json.loads(made["datapackage.json"]) and "none" in made["README.txt"].decode()
    assert "To be chosen" in made["README.txt"].decode()


def test_a_session_is_named_by_its_title(store):
    put(store, odd_entries())
    about = json.loads(parts(packed(store, SESSION))["datapackage.json"])
    assert (about["name"], about["title"]) == (f"isokom-session-{SESSION}", "Isokom session: Demo flame (invented)")
