"""Many tablets that push at once to one real server; a library of the test and of the measurement by hand:

    python -m tests.faults.tablets [tablets] [batches of each]

prints entries per second, the 50th and 95th hundredth of a push, and bytes per entry on the wire (request and answer with their headers, uncompressed request, compressed answer).
"""

import json
import sys
import tempfile
import threading
import time
from pathlib import Path

import httpx

from server.sync.digest import FIELD, digest_of
from tests.entries import whole_trial

TRIALS_IN_A_BATCH = 6


class Pushing:
    """One tablet: `batches` of trials, one after the other, each until it is confirmed."""

    def __init__(self, url: str, batches: int, start: threading.Barrier):
        self.url, self.start = url, start
        self.batches = [[one for _ in range(TRIALS_IN_A_BATCH) for one in whole_trial()] for _ in range(batches)]
        self.confirmed: list[str] = []
        self.seconds: list[float] = []
        self.wire_bytes = 0

    def run(self) -> None:
        with httpx.Client(base_url=self.url, timeout=60) as client:
            self.start.wait()
            for batch in self.batches:
                body = json.dumps({"entries": batch}).encode()
                began = time.perf_counter()
                answer = client.post("/sync/push", content=body, headers={"Content-Type": "application/json", FIELD: digest_of(body)})
                self.seconds.append(time.perf_counter() - began)
                self.wire_bytes += len(body) + _bytes(answer.request.headers) + int(answer.headers["content-length"]) + _bytes(answer.headers)
                self.confirmed += [one["id"] for one in answer.json()["verdicts"] if one["verdict"] in ("stored", "same")]


def _bytes(headers: httpx.Headers) -> int:
    """Of a head as HTTP/1.1 writes it, with its first line."""
    return sum(len(name) + len(value) + 4 for name, value in headers.raw) + 40


def push_at_once(url: str, tablets: int, batches: int) -> tuple[list[Pushing], float]:
    """(the tablets when all are through, how many s it took)."""
    start = threading.Barrier(tablets + 1)
    made = [Pushing(url, batches, start) for _ in range(tablets)]
    threads = [threading.Thread(target=one.run) for one in made]
    for thread in threads:
        thread.start()
    start.wait()
    began = time.perf_counter()
    for thread in threads:
        thread.join()
    return made, time.perf_counter() - began


def main() -> None:
    from tests.books import empty_book
    from tests.conftest import LiveServer

    tablets, batches = (int(one) for one in (sys.argv[1:] + ["20", "20"][len(sys.argv) - 1 :])[:2])
    with tempfile.TemporaryDirectory() as folder:
        server = LiveServer(empty_book(Path(folder) / "bench.db")).start()
        try:
            made, took_s = push_at_once(server.url, tablets, batches)
        finally:
            server.stop()
    entries = sum(len(one.confirmed) for one in made)
    seconds = sorted(second for one in made for second in one.seconds)
    print(f"{tablets} tablets, {entries:,} entries in {took_s:.1f} s: {entries / took_s:,.0f}/s")
    print(f"one push of {TRIALS_IN_A_BATCH * 6} entries: median {1000 * seconds[len(seconds) // 2]:.0f} ms, 95 of 100 within {1000 * seconds[int(len(seconds) * 0.95)]:.0f} ms")
    print(f"{sum(one.wire_bytes for one in made) / entries:.0f} bytes an entry on the wire")


if __name__ == "__main__":
    main()
