"""isokom sync, pack, unpack: bring two bench books to hold the same, over the network or by a file."""

import argparse
import socket
import sys
import time
from pathlib import Path

from server.command.serve import of_a_book, settings_from
from server.errors import Failure, Refused


def add(commands) -> None:
    """The commands of this module."""
    sync = commands.add_parser("sync", help="exchange everything new with another machine, both ways")
    sync.add_argument("link", nargs="?", help="the link that the other machine's page “Devices” shows, or its address once it is known; without it, every known machine")
    sync.add_argument("--forget", action="store_true", help="exchange no more with that machine; what came from it stays")
    pack = commands.add_parser("pack", help="write everything new since the last pack into a file, for a machine that is never in reach")
    pack.add_argument("target", nargs="?", type=Path, default=Path("."), metavar="FILE-OR-FOLDER")
    pack.add_argument("--all", action="store_true", help="everything, not only what is new: for a first time, or when a pack was lost")
    unpack = commands.add_parser("unpack", help="take in packs, or the file that a tablet saved; to do it twice is harmless")
    unpack.add_argument("files", nargs="+", type=Path, metavar="FILE")
    for command, run in ((sync, run_sync), (pack, run_pack), (unpack, run_unpack)):
        command.add_argument("--database", type=Path, help="the bench book's file")
        command.set_defaults(run=run)


def machine() -> str:
    """What this machine calls itself."""
    return socket.gethostname()[:80] or "a machine without a name"


def now_ms() -> int:
    return int(time.time() * 1000)


def _show(told) -> None:
    if sys.stderr.isatty():
        print(f"\r{told.sent:,} sent, {told.came:,} came …", end="", file=sys.stderr, flush=True)


def _own_or_new(arguments: argparse.Namespace):
    """The bench book that takes in what comes from elsewhere. A new one is made where there is none, and said."""
    from server.store.opening import open_store

    settings = settings_from(arguments)
    is_new = settings.is_file and not settings.file.exists()
    store = open_store(settings)
    if is_new:
        print(f"A new bench book was made: {settings.file}")
    return store


def _exchange(store, peer_id: str, address: str) -> bool:
    """With one machine; one that cannot be reached keeps none of the others waiting."""
    from server.exchange import runs

    try:
        told = runs.exchange(store, peer_id, now_ms, _show)
    except Failure as failure:
        print(f"isokom: {failure.message}", file=sys.stderr)
        return False
    print(f"{address}: {told.sentence}")
    return True


def _forget(store, link: str | None) -> None:
    """Raises Refused or Missing."""
    from server.exchange import join, peers

    if not link:
        raise Refused("Say which machine is to be forgotten: isokom sync --forget ADDRESS.")
    with store.write() as session:
        peer = peers.find(session, join.taken_apart(link)[0])
        peers.forget(session, peer.id)
    print(f"{peer.address} is forgotten here. What came from it stays.")


def run_sync(arguments: argparse.Namespace) -> None:
    from server.exchange import peers, runs

    store = _own_or_new(arguments)
    try:
        with store.read() as session:
            known = [(peer.id, peer.address) for peer in peers.every(session)]
        if arguments.forget:
            return _forget(store, arguments.link)
        if arguments.link:
            known = [runs.known_or_joined(store, arguments.link, machine())]
        if not known:
            raise Refused("No other machine is known yet. On the other one open “Devices”, let in a server, and give the link that it shows: isokom sync 'LINK'.", code="no_peer")
        missed = [address for peer_id, address in known if not _exchange(store, peer_id, address)]
        _tell_differences(store)
    finally:
        store.close()
    if missed:
        sys.exit(1)


def _tell_differences(store) -> None:
    from server.settle.log import differences

    with store.read() as session:
        count = len(differences(session))
    if count:
        print(f"{count} {'thing was' if count == 1 else 'things were'} said differently on machines that had not heard of each other: see the page /differences.")


def run_pack(arguments: argparse.Namespace) -> None:
    from server.store.opening import open_store
    from server.exchange.pack import pack

    store = open_store(of_a_book(arguments))
    try:
        made = pack(store, arguments.target, machine(), now_ms(), arguments.all)
    finally:
        store.close()
    since = "everything there is" if made.after.seq == 0 else "new since the last pack; if that one never arrived, use --all"
    print(f"{made.path}: {made.entries:,} entries ({since}).")


def run_unpack(arguments: argparse.Namespace) -> None:
    from server.exchange.unpack import unpack

    missing = [path for path in arguments.files if not path.is_file()]
    if missing:
        raise Refused(f"{missing[0]} is no file. Nothing was taken in.")
    store = _own_or_new(arguments)
    try:
        refused = False
        for path in arguments.files:
            found = unpack(store, path, now_ms())
            print(f"{path}: {found.sentence}")
            refused = refused or bool(found.refused)
        _tell_differences(store)
    finally:
        store.close()
    if refused:
        sys.exit(1)
