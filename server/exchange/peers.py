"""The other machines that this one exchanges with, and how far it is with each. This module alone writes the table. Never commits."""

import uuid

from pydantic import BaseModel
from sqlalchemy import BigInteger, Text
from sqlmodel import Field as Column
from sqlmodel import Session, SQLModel, select

from server.errors import Missing
from server.exchange.gaps import Gap
from server.sync.feed import START, Mark

PACKS = "file"  # address of what is handed over by files
MOST_REFUSED = 1000


class Peer(SQLModel, table=True):
    """One machine, or the files. `state` holds a Progress as JSON; `trust` the certificate (PEM) that its own must come from, empty for the system's."""

    __tablename__ = "peer"

    id: str = Column(primary_key=True, max_length=36)
    address: str = Column(max_length=300, unique=True)
    name: str = Column(max_length=120)
    token: str = Column(max_length=200)
    trust: str = Column(sa_type=Text)
    state: str = Column(sa_type=Text)
    last_ms: int = Column(sa_type=BigInteger)
    last_told: str = Column(max_length=600)


class Refusal(BaseModel):
    """An entry of this book that the other side would not take; it is offered again each time."""

    id: str
    message: str


class Progress(BaseModel):
    """How far two machines are. `pulled`: place in their feed; `pushed`: place in ours; `head`: where their book stood when it was last seen.

    `theirs`: what of their feed came from here; `ours`: what of our feed came from there; `refused`: of ours, by them; `refused_here`: how many of theirs this version could not take.
    """

    pulled: Mark = START
    pushed: Mark = START
    head: Mark = START
    theirs: list[Gap] = []
    ours: list[Gap] = []
    refused: list[Refusal] = []
    refused_here: int = 0
    version: str = ""


def every(session: Session) -> list[Peer]:
    """All machines by name, without the files."""
    return list(session.exec(select(Peer).where(Peer.address != PACKS).order_by(Peer.name, Peer.address)))


def find(session: Session, address: str) -> Peer:
    """One machine by its address. Raises Missing."""
    peer = session.exec(select(Peer).where(Peer.address == address)).first()
    if peer is None:
        raise Missing(f"There is no machine at {address} that this one exchanges with. Give the whole link that its page “Devices” shows.", code="no_such_peer")
    return peer


def keep(session: Session, address: str, name: str = "", token: str = "", trust: str = "") -> Peer:
    """The machine at an address, made known or let in anew."""
    peer = session.exec(select(Peer).where(Peer.address == address)).first()
    peer = peer or Peer(id=str(uuid.uuid4()), address=address, name=name, token="", trust="", state=Progress().model_dump_json(), last_ms=0, last_told="")
    if token:
        peer.name, peer.token, peer.trust = name, token, trust
    session.add(peer)
    session.flush()
    return peer


def known(session: Session, peer_id: str) -> Peer:
    """One machine by its id. Raises Missing."""
    peer = session.get(Peer, peer_id)
    if peer is None:
        raise Missing("This machine is not known here any more.", code="no_such_peer")
    return peer


def forget(session: Session, peer_id: str) -> None:
    """Exchange no more with a machine. Raises Missing."""
    session.delete(known(session, peer_id))


def progress(session: Session, peer_id: str) -> Progress:
    """How far it is with a machine. Raises Missing."""
    peer = known(session, peer_id)
    return Progress.model_validate_json(peer.state)


def save(session: Session, peer_id: str, state: Progress, told: str | None = None, now_ms: int = 0) -> None:
    """Keep how far it is, in the transaction of what brought it there; with what was said of it at the end. Raises Missing."""
    peer = known(session, peer_id)
    peer.state = state.model_copy(update={"refused": state.refused[:MOST_REFUSED]}).model_dump_json()
    if told is not None:
        peer.last_told, peer.last_ms = told[:600], now_ms
    session.add(peer)
