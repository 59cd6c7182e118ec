"""Reads what devices found when they tried themselves."""

from sqlmodel import Session

from server.store import log

MOST_DEVICES = 300


def latest(session: Session) -> list[dict]:
    """The last self-test of each device, the newest first: {device, at_ms, name, agent, checks, worst}. Bounded by the number of devices."""
    found = {entry["device"]: entry for entry in log.entries(session, "device")}
    newest = sorted(found.values(), key=lambda entry: (entry["at_ms"], entry["id"]), reverse=True)[:MOST_DEVICES]
    return [{"device": one["device"], "at_ms": one["at_ms"], **one["body"]} for one in newest]
