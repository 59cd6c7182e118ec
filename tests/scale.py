"""A large bench book by simulation: what grows with it, page by page.

    python -m tests.scale [entries] [tablets]        1,000,000 and 200 unless said otherwise

fills a book with trials of that many tablets through the door that tablets use, stops at a tenth of the way and at the end, and asks for every page and table that
takes no number: time (the second of two askings, as a desk page is looked at again and again), bytes, and statements. A page that takes more than three times as long at the end is marked.
"""

import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from sqlalchemy import event

from server.app import create_app
from server.settings import Settings
from server.sync.push import Batch, push
from tests.client import Client
from tests.entries import WALL_0, whole_trial
from tests.routes import every_route

GLASSES = 40
TRIALS_IN_A_BATCH = 80
GROWS = 3.0
NOT_PAGES = ("/static", "/sw.js", "/openapi.json", "/results/package")


def batches(entries: int, tablets: int) -> Iterator[list[dict]]:
    """Trials of many tablets by turns, each of one of a few dozen glasses."""
    devices = [f"018f0000-0000-7000-8000-{number:012x}" for number in range(tablets)]
    made = 0
    while made < entries:
        batch = []
        for trial in range(TRIALS_IN_A_BATCH):
            place = made // 6 + trial
            device, glass = devices[place % tablets], place % GLASSES
            batch += [one | {"device": device, "at_ms": WALL_0 + 60_000 * place} for one in whole_trial(glass_key=f"demo-{glass}", glass_name=f"Demo glass {glass}")]
        made += len(batch)
        yield batch


def fill(store, entries: int, tablets: int) -> float:
    """Entries a second."""
    began, made = time.perf_counter(), 0
    for batch in batches(entries, tablets):
        with store.write() as session:
            push(session, Batch(entries=batch), int(time.time() * 1000))
        made += len(batch)
    return made / (time.perf_counter() - began)


def looked_at(app) -> dict[str, tuple[float, int, int]]:
    """Page -> (s, bytes, statements) of its second asking."""
    client, found, counted = Client(app), {}, [0]
    event.listen(app.state.store.engine, "before_cursor_execute", lambda *_: counted.__setitem__(0, counted[0] + 1))
    for method, path in sorted(set(every_route(app))):
        if method != "GET" or "{" in path or path.startswith(NOT_PAGES):
            continue
        client.get(path)
        counted[0], began = 0, time.perf_counter()
        answer = client.get(path)
        found[path] = (time.perf_counter() - began, len(answer.content), counted[0])
    return found


def main() -> None:
    entries, tablets = (int(one) for one in (sys.argv[1:] + ["1000000", "200"][len(sys.argv) - 1 :])[:2])
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(Settings(database=Path(folder) / "bench.db"))
        told = []
        for part in (entries // 10, entries - entries // 10):
            rate = fill(app.state.store, part, tablets)
            told.append(looked_at(app))
            print(f"{part:,} entries more, {rate:,.0f}/s")
        size_mb = (Path(folder) / "bench.db").stat().st_size / 1e6
        app.state.store.close()
    print(f"the book: {size_mb:,.0f} MB, {1e6 * size_mb / entries:.0f} bytes an entry\n{'page':40} {'at a tenth':>12} {'at the end':>12} {'kB':>8} {'statements':>11}")
    for path, (early_s, _bytes, _statements) in told[0].items():
        late_s, size, statements = told[1][path]
        mark = "  grows" if late_s > GROWS * early_s and late_s > 0.05 else ""
        print(f"{path:40} {1000 * early_s:9.0f} ms {1000 * late_s:9.0f} ms {size / 1000:8.0f} {statements:11d}{mark}")


if __name__ == "__main__":
    main()
