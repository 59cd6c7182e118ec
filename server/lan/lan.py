"""What `serve --lan` needs: the place that tablets know, the certificates for it, and the words about both."""

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from server.errors import Refused
from server.lan import certificates, names
from server.lan.names import Place
from server.settings import Settings

FIRST_PORT = 8729
SOON_DAYS = 30


@dataclass(frozen=True)
class Lan:
    """Where tablets come in. `authority`: the certificate (PEM) that they have to trust, empty where a certificate of somebody's own is used; `held`: names and addresses in the certificate."""

    place: Place
    own: list[str]
    held: list[str]
    help_port: int
    authority: bytes
    certificate: Path
    key: Path
    warning: str = ""
    announcement: str = ""

    @property
    def address(self) -> str:
        return self.place.address

    @property
    def names(self) -> list[str]:
        return [*self.held, self.place.name]

    @property
    def addresses(self) -> list[str]:
        """The same door by number: another, empty place for a tablet."""
        return [f"https://{_host(one)}:{self.place.port}" for one in self.own if one in self.held or not self.authority]

    @property
    def help_address(self) -> str:
        """The plain page, by number, since a name may not be found yet; empty where nothing has to be trusted, or no tablet can come."""
        host = next((one for one in self.own if ":" not in one), self.own[0] if self.own else "")
        return f"http://{_host(host)}:{self.help_port}" if self.authority and host else ""

    @property
    def fingerprint(self) -> str:
        return certificates.fingerprint(self.authority) if self.authority else ""

    @property
    def fingerprint_groups(self) -> list[str]:
        """As it is compared by eye."""
        return [self.fingerprint[i : i + 4].upper() for i in range(0, len(self.fingerprint), 4)]

    @property
    def is_limited(self) -> bool:
        """Whether the authority may sign for local names and private addresses alone."""
        return certificates.is_limited(self.authority)

    @property
    def ends(self) -> datetime | None:
        """When the certificate's time is over; None where its file cannot be read any more."""
        try:
            return certificates.ends(self.certificate.read_bytes())
        except (OSError, ValueError):
            return None

    @property
    def authority_ends(self) -> datetime | None:
        return certificates.ends(self.authority) if self.authority else None

    @property
    def warnings(self) -> list[str]:
        """What a person at the desk should know."""
        found = [self.warning, self.announcement]
        if not self.own:
            found.append("This machine is on no network now, so no tablet can reach it. Join a Wi-Fi, or let this machine make a hotspot; within a minute the page “Connect a tablet” shows the way.")
        if self.ends is None:
            found.append(f"The certificate in {self.certificate} can no longer be read. Tablets go on with the one of before; " + ("stop Isokom, move that file away and start it again to make another." if self.authority else "put it right before you start Isokom again."))
        elif (self.ends - datetime.now(UTC)).days < SOON_DAYS:
            found.append(f"The certificate ends on {self.ends:%d %B %Y}. " + ("Start Isokom anew to renew it." if self.authority else "Renew it; until then tablets go on with what they have."))
        return [one for one in found if one]


def _host(address: str) -> str:
    return f"[{address}]" if ":" in address else address


def folder_of(settings: Settings) -> Path:
    """Where name, port and certificates are kept."""
    return settings.file.parent / "lan"


def _own_name(settings: Settings, folder: Path, held: list[str]) -> str:
    """The host name for tablets where a certificate of somebody's own is used: what was asked for, is kept, or stands in it. Raises Refused where it is not for that name, or for no certain one."""
    if settings.lan_name and not certificates.covers(held, settings.lan_name):
        raise Refused(f"The certificate is not for {settings.lan_name}, but for {', '.join(held)}. Give a --lan-name that it covers.")
    known = names.kept(folder)
    usable = [settings.lan_name, known.name if known and certificates.covers(held, known.name) else None, *filter(certificates.is_host, held)]
    found = next(filter(None, usable), None)
    if not found:
        raise Refused(f"The certificate is for {', '.join(held)}, which is no name of one machine. Say with --lan-name which name tablets open: one that the certificate covers.")
    return found


def _may_be_signed(name: str, settings: Settings, folder: Path) -> None:
    """Raises Refused for a name that this machine's own authority may not vouch for."""
    try:
        is_limited = certificates.is_limited(certificates.Files(folder).authority.read_bytes())
    except (OSError, ValueError):  # none yet, or one that is told of later
        is_limited = not settings.ca_without_limits
    if not (certificates.is_local if is_limited else certificates.is_host)(name):
        raise Refused(f"Isokom's own certificate cannot be for “{name}”: tablets would not believe it. Give a --lan-name that ends in .local or .home.arpa, as isokom-desk.local (with --new-address where another is kept), or a certificate of your own with --certificate.")


def prepared(settings: Settings, help_port: int, change: bool = False) -> Lan:
    """Everything for the tablets' door, made or renewed; its name and port are for the caller to keep. change: another name or port is really wanted. Raises Refused or Unavailable."""
    folder, own = folder_of(settings), names.addresses()
    if bool(settings.certificate) != bool(settings.private_key):
        raise Refused("A certificate of your own needs its private key, and the other way round: give --certificate and --private-key.")
    if settings.certificate:
        held = certificates.own_files(settings.certificate, settings.private_key)
        place, warning = names.settled(folder, _own_name(settings, folder, held), settings.lan_port, FIRST_PORT, change)
        return Lan(place, own, held, help_port, b"", settings.certificate, settings.private_key, warning)
    place, warning = names.settled(folder, settings.lan_name, settings.lan_port, FIRST_PORT, change)
    for name in filter(None, (settings.lan_name, place.name)):
        _may_be_signed(name, settings, folder)
    held = names.certified(place, own)
    files = certificates.prepare(folder, place.name.removesuffix(".local"), held, limited=not settings.ca_without_limits)
    return Lan(place, own, held, help_port, files.authority.read_bytes(), files.certificate, files.key, warning)


def renewed(lan: Lan, settings: Settings) -> Lan | None:
    """The same with new certificates, where this machine's addresses have changed or the certificate grows old; None where nothing is to be done."""
    if not lan.authority:
        return None
    own, before = names.addresses(), lan.certificate.read_bytes() if lan.certificate.is_file() else b""
    held = names.certified(lan.place, own)
    certificates.prepare(folder_of(settings), lan.place.name.removesuffix(".local"), held, limited=not settings.ca_without_limits)
    return replace(lan, own=own, held=held) if own != lan.own or lan.certificate.read_bytes() != before else None
