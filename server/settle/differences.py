"""Pure: entries -> the differences that nobody has decided yet, each with what may be chosen. What a choice records is a statement like any other, one that comes after all of them."""

from collections.abc import Callable, Container, Iterable
from dataclasses import dataclass
from urllib.parse import urlencode

from server.find.ledger import Finds
from server.find.statements import CONSENT, FACTS, Statements
from server.finding.said import percent_of, said_of_pairs
from server.plan.said import CONDITION_LABELS, conditions_of, said_of_conditions, said_of_runs, state_of
from server.settle.words import CONSENT_FIELDS, FIND_FIELDS, LANE_WORDS, LATER, LATER_MARGIN, OF_AGREEMENT, PIECE_FIELDS, RUN_WORDS, STRICT, group_words, value_words
from server.store.latest import disagree, latest, said
from server.trial.timing import LANES, does_count, said_of_lanes

Fields = dict[str, str]


@dataclass(frozen=True)
class Choice:
    """One of the things that were said. `counts`: it is what counts until somebody decides; `kind` and `body` are what choosing it records; `lines`: (label, words)."""

    entry: str
    at_ms: int
    device: str
    counts: bool
    kind: str
    body: dict
    lines: list[tuple[str, str]]


@dataclass(frozen=True)
class Difference:
    """Statements about one matter that know nothing of each other and say different things."""

    subject: str
    title: str
    matter: str
    address: str
    meanwhile: str
    choices: list[Choice]


def _once(statements: list[dict], what: Callable[[dict], object]) -> list[dict]:
    """Of those that say the same, the last."""
    found: list[dict] = []
    for one in statements:
        found = [other for other in found if what(other) != what(one)] + [one]
    return found


def _lines(statement: dict, statements: list[dict], fields: Fields, names: dict[str, str]) -> list[tuple[str, str]]:
    """The fields in which these differ, as this statement has them."""
    told = said(statement)
    idle = OF_AGREEMENT if told.get("state", "given") != "given" else ()
    return [(label, value_words(name, told[name], names)) for name, label in fields.items() if name not in idle and any(said(one)[name] != told[name] for one in statements)]


def _choices(statements: list[dict], kind: str, fields: Fields, names: dict[str, str], marks_last: bool = True) -> list[Choice]:
    over = [one["id"] for one in statements]
    different = _once(statements, said)
    return [
        Choice(one["id"], one["at_ms"], one["device"], marks_last and one is statements[-1], kind, {**said(one), "over": over}, _lines(one, different, fields, names))
        for one in different
    ]


def of_finds(entries: Iterable[dict], finds: Finds) -> list[Difference]:
    """Differences in the facts of finds and pieces and in what keepers said. `entries` are all of finds and pieces."""
    facts, consents = Statements(), Statements()
    for entry in entries:
        for kinds, statements in ((FACTS, facts), ((CONSENT,), consents)):
            if entry["kind"] in kinds:
                statements.add(entry)
    names = {find.id: f"{find.facts['site']}, find {find.facts['number']}".removeprefix(", ") for find in finds.finds}
    found = []
    for find in finds.finds:
        address = f"/finds/find?f={find.id}"
        if "consent" in find.unsettled:
            found.append(Difference(find.id, names[find.id], "The keeper’s consent", address, STRICT, _choices(consents.latest(find.id), CONSENT, CONSENT_FIELDS, names, False)))
        if "facts" in find.unsettled:
            found.append(Difference(find.id, names[find.id], "The facts of the find", address, LATER, _choices(facts.latest(find.id), "find.changed", FIND_FIELDS, names)))
    for piece in finds.pieces:
        if piece.unsettled:
            title = ", ".join(word for word in (names.get(piece.facts["find"]), piece.facts["label"]) if word)
            found.append(Difference(piece.id, title, "The facts of the piece", f"/finds/piece?p={piece.id}", LATER, _choices(facts.latest(piece.id), "piece.changed", PIECE_FIELDS, names)))
    return found


def _lane_choice(statement: dict, statements: list[dict], lane: str) -> Choice:
    counts = does_count(statement)
    words = "The time counts" if counts else f"The time does not count: {statement['body']['why']}"
    body = {"lane": lane, "over": [one["id"] for one in statements]} | ({} if counts else {"why": statement["body"]["why"]})
    return Choice(statement["id"], statement["at_ms"], statement["device"], statement is statements[-1], statement["kind"], body, [("Said", words)])


def of_trial(entries: list[dict], title: str) -> list[Difference]:
    """Differences in whether the times of one trial count. One for all its times where they were said of all at once."""
    told = {lane: statements for lane, statements in said_of_lanes(entries).items() if disagree(statements, does_count)}
    numbers = {lane: [one["id"] for one in statements] for lane, statements in told.items()}
    if len(told) == len(LANES) and all(own == numbers[LANES[0]] for own in numbers.values()):
        told = {"all": told[LANES[0]]}
    subject = entries[0]["subject"]
    return [
        Difference(
            subject, title, f"Whether this time counts: {LANE_WORDS[lane]}", f"/results/trial/{subject}", LATER,
            [_lane_choice(one, statements, lane) for one in _once(statements, does_count)],
        )
        for lane, statements in told.items()
    ]


def _own_choice(statement: dict, statements: list[dict], lines: list[tuple[str, str]]) -> Choice:
    """A statement as one of the choices: choosing it says the same again, after all of them."""
    body = said(statement) | {"over": [one["id"] for one in statements]}
    return Choice(statement["id"], statement["at_ms"], statement["device"], statement is statements[-1], statement["kind"], body, lines)


def _conditions_apart(subject: str, title: str, address: str, statements: list[dict]) -> Difference:
    different = _once(statements, conditions_of)

    def lines(one: dict) -> list[tuple[str, str]]:
        told = conditions_of(one)
        return [(label, value_words(name, told[name], {})) for name, label in CONDITION_LABELS.items() if any(conditions_of(other)[name] != told[name] for other in different)]

    return Difference(subject, title, "Torch and room", address, LATER, [_own_choice(one, statements, lines(one)) for one in different])


def of_session(entries: list[dict], heated: Container[int]) -> list[Difference]:
    """Differences in what was said of one session: `entries` are all of it, its plan among them. A dish that was heated and kept (its run is among `heated`) is in no doubt; torch and room are not asked of a closed one."""
    made = next(entry for entry in entries if entry["kind"] == "plan.made")
    subject, plan = made["subject"], made["body"]
    title, address = plan["title"] or f"Session {subject[-6:]}", f"/results/session/{subject}"
    found, changed = [], said_of_conditions(entries)
    if disagree(changed, conditions_of) and not any(entry["kind"] == "plan.closed" for entry in entries):
        found.append(_conditions_apart(subject, title, address, changed))
    for run, statements in sorted(said_of_runs(entries).items()):
        if run < len(plan["runs"]) and run not in heated and disagree(statements, state_of):
            choices = [
                _own_choice(one, statements, [("Said", RUN_WORDS[one["kind"]]), ("Why", value_words("why", one["body"]["why"], {}))])
                for one in _once(statements, state_of)
            ]
            found.append(Difference(subject, title, f"Dish {plan['runs'][run]['code']}", address, LATER, choices))
    return found


def of_margins(entries: list[dict], names: dict[str, str]) -> list[Difference]:
    """Differences in the margins within which two groups count as alike. `names` are those of glasses and pieces by their keys."""
    return [
        Difference(
            statements[-1]["subject"], " and ".join(sorted(group_words(key, names) for key in keys)), f"Alike within: {LANE_WORDS[lane]}", _beside(statements[-1]), LATER_MARGIN,
            [_own_choice(one, statements, [("Margin", f"{percent_of(one):g} %")]) for one in _once(statements, percent_of)],
        )
        for (keys, lane), statements in said_of_pairs(entries).items()
        if disagree(statements, percent_of)
    ]


def _beside(statement: dict) -> str:
    return f"/results/compare?{urlencode({name: statement['body'][name] for name in ('first', 'second', 'lane')})}"
