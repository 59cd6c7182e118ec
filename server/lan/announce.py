"""Tells the local network where this desk is (mDNS, RFC 6762; DNS-SD, RFC 6763), so that its name is found without a name server."""

import ipaddress
import logging
from dataclasses import dataclass, field

from zeroconf import Error, ServiceInfo, Zeroconf

from server.lan.names import Place

log = logging.getLogger("isokom")
KIND = "_isokom._tcp.local."


@dataclass
class Announced:
    """An announcement that can be taken back. `problem`: why there is none, in a sentence."""

    problem: str = ""
    _zeroconf: Zeroconf | None = None
    _info: ServiceInfo | None = field(default=None)

    def end(self) -> None:
        """Say good-bye; never raises."""
        if self._zeroconf is None:
            return
        try:
            self._zeroconf.unregister_service(self._info)
            self._zeroconf.close()
        except (OSError, Error) as error:
            log.warning("mDNS could not be ended: %s", error)
        self._zeroconf = None


def announce(place: Place, addresses: list[str]) -> Announced:
    """Announce the place with these addresses. A network that does not let us is no failure: the address works all the same where the name is known."""
    packed = [ipaddress.ip_address(text).packed for text in addresses]
    label = place.name.removesuffix(".local")
    info = ServiceInfo(KIND, f"{label}.{KIND}", port=place.port, addresses=packed, server=f"{place.name}.", properties={"path": "/"})
    try:
        found = Zeroconf()
        found.register_service(info, cooperating_responders=True)
    except (OSError, Error) as error:
        return Announced(problem=f"The name {place.name} could not be announced on this network ({error or type(error).__name__}). Tablets may not find it; the numbered address works.")
    return Announced("", found, info)
