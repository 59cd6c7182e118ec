"""What this machine is called on the local network, kept for ever: what a tablet records belongs to the scheme, name and port under which it was opened."""

import ipaddress
import json
import os
import re
import socket
from dataclasses import asdict, dataclass
from pathlib import Path

import ifaddr

from server.errors import Unavailable
from server.lan.certificates import is_host, may_be_signed

KEPT = "lan.json"


@dataclass(frozen=True)
class Place:
    """The stable name and port of the tablets' address."""

    name: str
    port: int

    @property
    def address(self) -> str:
        return f"https://{self.name}:{self.port}"


def plain(hostname: str) -> str:
    """A host name's first label in small letters, digits and hyphens (RFC 1123), 40 characters at most."""
    return re.sub(r"-+", "-", re.sub(r"[^a-z0-9]+", "-", hostname.split(".")[0].lower())).strip("-")[:40].strip("-") or "desk"


def usual_name(hostname: str | None = None) -> str:
    """What a machine calls itself the first time."""
    found = plain(hostname or socket.gethostname())
    return f"{found if found.startswith('isokom') else f'isokom-{found}'}.local"


def kept(folder: Path) -> Place | None:
    """The place that tablets know; None the first time."""
    try:
        told = json.loads((folder / KEPT).read_text(encoding="utf-8"))
        place = Place(told["name"], told["port"])
        if not (isinstance(place.name, str) and is_host(place.name) and type(place.port) is int and 0 < place.port < 65536):
            raise ValueError(place)
        return place
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise Unavailable(f"{folder / KEPT} cannot be read. It holds the name under which tablets know this machine; put it right, or move it away and let every tablet open the new address.") from error


def keep(folder: Path, place: Place) -> None:
    """Keep the place. Raises Unavailable."""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        part = folder / f".{KEPT}.part"
        part.write_text(json.dumps(asdict(place), indent=1), encoding="utf-8")
        os.replace(part, folder / KEPT)
    except OSError as error:
        raise Unavailable(f"{folder / KEPT} cannot be written ({error.strerror}).") from error


def settled(folder: Path, name: str | None, port: int | None, default_port: int, change: bool) -> tuple[Place, str]:
    """(the place, a warning or nothing). What tablets know stays, unless `change` says that another is really wanted. Nothing is kept yet: the port may be taken."""
    known = kept(folder)
    wanted = Place(name or (known.name if known else usual_name()), port if port is not None else known.port if known else default_port)
    if known is None or known == wanted:
        return wanted, ""
    if not change:
        return known, (
            f"Tablets know this machine as {known.address}, so it stays that. {wanted.address} would be another, empty place for them, and unsent work would stay behind. "
            "Send or save everything first, then start once with --new-address."
        )
    return wanted, f"The address is now {wanted.address}. What tablets have not sent stays behind at {known.address}: there, save it to a file and take that in here."


def addresses() -> list[str]:
    """This machine's own addresses on its networks, private ones first; loopback and link-local IPv6 left out."""
    found: set[str] = set()
    for adapter in ifaddr.get_adapters():
        found |= {ip.ip if isinstance(ip.ip, str) else ip.ip[0] for ip in adapter.ips}
    parsed = [ipaddress.ip_address(text.split("%")[0]) for text in found]
    usable = [one for one in parsed if not (one.is_loopback or (one.version == 6 and one.is_link_local))]
    return [str(one) for one in sorted(usable, key=lambda one: (not one.is_private, one.version, int(one)))]


def certified(place: Place, own: list[str]) -> list[str]:
    """Every name and address that the certificate is for. Public addresses are left out: the authority may not sign for them."""
    return [place.name, "localhost", "127.0.0.1", "::1", *(one for one in own if may_be_signed(one))]
