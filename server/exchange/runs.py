"""One exchange from beginning to end: who the other is, and what came of it."""

from collections.abc import Callable

from server.exchange import join, peers
from server.exchange.between import Exchange, Told
from server.exchange.remote import Remote
from server.store.engine import Store
from server.sync.feed import START


def known_or_joined(store: Store, link: str, name: str) -> tuple[str, str]:
    """(id, address) of the machine that a link or address names; it lets this one in first where the link holds a code. Raises Refused, Missing or Unavailable."""
    address, code, _fingerprint = join.taken_apart(link)
    if not code and address.startswith("http:"):  # only this machine itself, or a tunnel that ends here: its own door asks for no pass
        _answers(address)
        with store.write() as session:
            return peers.keep(session, address, address.split("//")[1]).id, address
    if not code:
        with store.read() as session:
            return peers.find(session, address).id, address
    address, token, trust = join.joined(link, name)
    with store.write() as session:
        return peers.keep(session, address, address.split("//")[1], token, trust).id, address


def _answers(address: str) -> None:
    """Raises Unavailable where no Isokom answers: a mistyped address is not kept."""
    remote = Remote(address, "")
    try:
        remote.place(START)
    finally:
        remote.close()


def exchange(store: Store, peer_id: str, clock: Callable[[], int], say: Callable[[Told], None] = lambda _told: None) -> Told:
    """Both ways with one machine. Raises Missing, Refused or Unavailable."""
    with store.read() as session:
        peer = peers.known(session, peer_id)
        remote = Remote(peer.address, peer.token, peer.trust)
    try:
        return Exchange(store, peer_id, remote, clock, say).run()
    finally:
        remote.close()
