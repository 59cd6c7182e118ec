"""The ZIP: the same book gives the same bytes, whatever the order in which its entries came."""

import hashlib
import json
import random

from server.app import open_store
from server.settings import Settings
from tests.packages import odd_entries, packed, parts, put, table


def test_the_same_bytes_whatever_the_order_of_arrival(store, tmp_path):
    told = odd_entries()
    put(store, told)
    other = open_store(Settings(database=tmp_path / "other.db"))
    random.Random(5).shuffle(told)
    put(other, told)
    assert packed(store) == packed(store) == packed(other)
    other.close()


def test_seals_are_those_of_the_files(store):
    put(store, odd_entries())
    made = parts(packed(store))
    for resource in json.loads(made["datapackage.json"])["resources"]:
        assert resource["hash"] == f"sha256:{hashlib.sha256(made[resource['path']]).hexdigest()}"


def test_the_readme_counts_the_rows(store):
    put(store, odd_entries())
    data = packed(store)
    readme = parts(data)["README.txt"].decode()
    for name in ("trials", "presses", "entries", "sessions"):
        count = len(table(data, name))
        assert f"{name}.csv ({count} row{'' if count == 1 else 's'})" in readme
