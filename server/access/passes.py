"""Passes of devices and one-time invitations to get one. This module alone writes them; only a backup that is put back takes over who was turned away (server/keeping/put_back.py). Never commits."""

import uuid
from dataclasses import dataclass

from sqlalchemy import BigInteger, update
from sqlmodel import Field as Column
from sqlmodel import Session, SQLModel, delete, func, select

from server.access import codes
from server.access.rights import BENCH, DESK, GUEST
from server.errors import Missing, Refused

MINUTE_MS = 60_000
INVITED_FOR_MS = 10 * MINUTE_MS
MOST_MISSES = 10
SEEN_EVERY_MS = MINUTE_MS
ROLES = (DESK, BENCH, GUEST)
KINDS = ("device", "server")


class DevicePass(SQLModel, table=True):
    """A device that was let in. `seal`: digest of its token; `revoked_ms`: when the desk took the pass back."""

    __tablename__ = "device_pass"

    id: str = Column(primary_key=True, max_length=36)
    name: str = Column(max_length=80)
    kind: str = Column(max_length=10)
    role: str = Column(max_length=10)
    seal: str = Column(max_length=64, unique=True)
    made_ms: int = Column(sa_type=BigInteger)
    seen_ms: int = Column(sa_type=BigInteger)
    revoked_ms: int | None = Column(default=None, sa_type=BigInteger)
    agent: str = Column(max_length=200)


class Invite(SQLModel, table=True):
    """A one-time code, by its digest."""

    __tablename__ = "invite"

    id: str = Column(primary_key=True, max_length=36)
    seal: str = Column(max_length=64, unique=True)
    role: str = Column(max_length=10)
    until_ms: int = Column(sa_type=BigInteger)
    used_ms: int | None = Column(default=None, sa_type=BigInteger)


class Miss(SQLModel, table=True):
    """A wrong code that somebody tried; kept for a few minutes."""

    __tablename__ = "join_miss"

    id: str = Column(primary_key=True, max_length=36)
    at_ms: int = Column(sa_type=BigInteger, index=True)


@dataclass(frozen=True)
class Known:
    """A pass as the guard sees it."""

    id: str
    name: str
    role: str
    seen_ms: int
    is_revoked: bool


class TooManyTries(Refused):
    """Wrong codes were tried again and again."""

    code = "too_many_tries"


def invite(session: Session, role: str, now_ms: int, for_ms: int = INVITED_FOR_MS) -> str:
    """A new code for one device. Raises Refused for a role that is none."""
    if role not in ROLES:
        raise Refused(f"There is no role “{role}”. It is one of {', '.join(ROLES)}.", code="no_such_role")
    code = codes.new_code()
    session.add(Invite(id=str(uuid.uuid4()), seal=codes.seal(code), role=role, until_ms=now_ms + for_ms))
    session.flush()
    return code


def pause(session: Session, now_ms: int) -> None:
    """Raises TooManyTries while nobody may join."""
    misses = session.exec(select(func.count()).select_from(Miss).where(Miss.at_ms > now_ms - MINUTE_MS)).one()
    if misses >= MOST_MISSES:
        raise TooManyTries("Too many wrong codes were tried. All open codes are void: wait a minute, then show a new one at the desk.")


def missed(session: Session, now_ms: int) -> None:
    """Count a wrong code; at the tenth within a minute every open code is void."""
    session.add(Miss(id=str(uuid.uuid4()), at_ms=now_ms))
    session.exec(delete(Miss).where(Miss.at_ms < now_ms - 10 * MINUTE_MS))
    session.flush()
    if session.exec(select(func.count()).select_from(Miss).where(Miss.at_ms > now_ms - MINUTE_MS)).one() >= MOST_MISSES:
        session.exec(update(Invite).where(Invite.used_ms.is_(None)).values(used_ms=now_ms))


def let_in(session: Session, typed: str, name: str, kind: str, agent: str, now_ms: int) -> tuple[str, str] | None:
    """(token, role) for a code that is open, and then used up: of two who come at once one gets it. None for any other code."""
    wanted = Invite.seal == codes.seal(codes.as_meant(typed))
    claimed = session.exec(update(Invite).where(wanted, Invite.used_ms.is_(None), Invite.until_ms > now_ms).values(used_ms=now_ms))
    if claimed.rowcount != 1:
        return None
    role = session.exec(select(Invite.role).where(wanted)).one()
    token = codes.new_token()
    session.add(DevicePass(id=str(uuid.uuid4()), name=name, kind=kind, role=role, seal=codes.seal(token), made_ms=now_ms, seen_ms=now_ms, agent=agent[:200]))
    session.flush()
    return token, role


def known(session: Session, token: str) -> Known | None:
    """The pass of a token, revoked ones too."""
    row = session.exec(select(DevicePass).where(DevicePass.seal == codes.seal(token))).first()
    return Known(row.id, row.name, row.role, row.seen_ms, row.revoked_ms is not None) if row else None


def seen(session: Session, pass_id: str, now_ms: int) -> None:
    """Note that a device was here."""
    session.exec(update(DevicePass).where(DevicePass.id == pass_id).values(seen_ms=now_ms))


def every(session: Session) -> list[DevicePass]:
    """All passes, those that count first, the one seen last on top."""
    return list(session.exec(select(DevicePass).order_by(DevicePass.revoked_ms.is_not(None), DevicePass.seen_ms.desc(), DevicePass.id)))


def _one(session: Session, pass_id: str) -> DevicePass:
    row = session.get(DevicePass, pass_id)
    if row is None:
        raise Missing("No device with this pass is known here.", code="no_such_device")
    return row


def rename(session: Session, pass_id: str, name: str) -> None:
    """Raises Missing, or Refused for a name that is none."""
    row = _one(session, pass_id)
    row.name = named(name)
    session.add(row)


def revoke(session: Session, pass_id: str, now_ms: int) -> DevicePass:
    """Take a pass back; what came with it stays. Raises Missing."""
    row = _one(session, pass_id)
    row.revoked_ms = row.revoked_ms or now_ms
    session.add(row)
    return row


def named(typed: str) -> str:
    """The name of a device: one line, not empty, 80 characters at most. Raises Refused."""
    name = " ".join("".join(c if c.isprintable() else " " for c in typed).split())[:80]
    if not name:
        raise Refused("Give the device a name, so that the desk knows which it is.", code="no_name")
    return name
