"""What is laid aside comes back as it was, in whatever order, from memory or from the disk, and nothing of it stays."""

import gc
import os
from random import Random

from server.store import shelf as shelves
from server.store.shelf import Shelf


def open_files() -> int:
    """As proc(5) lists them."""
    return len(os.listdir("/proc/self/fd"))


def test_it_gives_back_what_was_laid_aside_in_any_order(monkeypatch):
    monkeypatch.setattr(shelves, "IN_MEMORY", 2000)
    gc.collect()
    before = open_files()
    shelf, things = Shelf(), [{"n": n, "text": "für Glas " * n, "at": (n, None)} for n in range(60)]
    places = [shelf.add(thing) for thing in things]
    assert open_files() == before + 1  # it went to the disk
    order = Random(1).sample(range(60), 60)
    assert [shelf.at(places[n]) for n in order] == [things[n] for n in order]
    again = shelf.add("later")
    assert (shelf.at(places[0]), shelf.at(again)) == (things[0], "later")
    del shelf
    gc.collect()
    assert open_files() == before
