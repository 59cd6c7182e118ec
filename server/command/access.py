"""isokom invite: a one-time code at the command line, for a desk without a screen."""

import argparse
import time
from pathlib import Path

from server.command.serve import of_a_book

ROLES = ("bench", "guest", "desk")


def add(commands) -> None:
    """The commands of this module."""
    command = commands.add_parser("invite", help="show a code that lets in one device or machine, good for ten minutes")
    command.add_argument("--role", choices=ROLES, default="bench", help="what it may do (bench)")
    command.add_argument("--database", type=Path, help="the bench book's file")
    command.set_defaults(run=run_invite)


def run_invite(arguments: argparse.Namespace) -> None:
    from server.access import codes, passes
    from server.lan.certificates import fingerprint
    from server.lan.lan import folder_of
    from server.lan.names import kept
    from server.store.opening import open_store

    settings = of_a_book(arguments)
    store = open_store(settings)
    try:
        with store.write() as session:
            code = passes.invite(session, arguments.role, int(time.time() * 1000))
    finally:
        store.close()
    folder = folder_of(settings)
    place, authority = kept(folder), folder / "authority.pem"
    print(f"Code: {codes.grouped(code)}")
    if place:
        print(f"Link: {place.address}/join#c={code}" + (f"&f={fingerprint(authority.read_bytes())}" if authority.exists() else ""))
    else:
        print("Tablets reach this desk once it was started with: isokom serve --lan")
    print("Good for ten minutes, once.")
