"""Pure: what persons said of the dishes of a session and of its standing conditions, on whatever device, and which of it counts; its twin is in static/plan/session.js."""

from collections.abc import Iterable

from server.store.latest import latest

OF_A_RUN = ("plan.skipped", "plan.done", "plan.reopened")
CONDITIONS = "plan.conditions"
CONDITION_LABELS = {
    "torch": "Torch", "nozzle": "Nozzle", "fuel": "Gas", "cylinder": "Pressure or cylinder", "distance_cm": "From the cone, cm", "holder": "Holder", "room_c": "Room, °C", "light": "Light", "operator": "At the torch",
}


def said_of_runs(entries: Iterable[dict]) -> dict[int, list[dict]]:
    """For each run (by its place in the plan) of which a person said something: the latest of these statements, of which the last counts."""
    told: dict[int, list[dict]] = {}
    for entry in entries:
        if entry["kind"] in OF_A_RUN:
            told.setdefault(entry["body"]["run"], []).append(entry)
    return {run: latest(statements) for run, statements in told.items()}


def said_of_conditions(entries: Iterable[dict]) -> list[dict]:
    """The latest changes of the conditions, of which the last counts; none where nothing changed."""
    return latest(entry for entry in entries if entry["kind"] == CONDITIONS)


def state_of(statement: dict) -> str:
    """What is said of a run, without the reason."""
    return statement["kind"]


def conditions_of(statement: dict) -> dict:
    """The conditions as a change of them leaves them, without the reason."""
    return statement["body"]["conditions"]
