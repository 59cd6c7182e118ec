"""What the fields of a statement are called, and their values in words."""

from server.find.sentences import TEST_WORDS, grams

FIND_FIELDS = {"number": "Find number", "site": "Site", "context": "Context", "keeper": "Keeper", "loan_from": "On loan since", "due": "Due back", "note": "Remarks"}
CONSENT_FIELDS = {"state": "The keeper", "by": "Who", "on": "On which day", "tests": "Tests", "limit_g": "Most of the whole find", "limit_piece_g": "Most of any one piece", "note": "Remarks"}
OF_AGREEMENT = ("tests", "limit_g", "limit_piece_g")  # what only an agreement says
PIECE_FIELDS = {
    "find": "Find", "label": "Label", "code": "Code", "colour": "Colour", "opacity": "Opacity", "condition": "Condition",
    "link": "Linked as", "glass_name": "Linked glass", "glass_key": "Number of the linked glass", "note": "Remarks",
}
LANE_WORDS = {"sag": "Sagged", "round": "Round", "glow": "Glow gone", "all": "all times of the trial"}
STATES = {"asked": "was asked, no answer yet", "given": "agreed", "refused": "refused"}
LINKS = {"own": "its own analysis", "like": "analysis of a like glass", "none": "not linked"}
RUN_WORDS = {"plan.skipped": "left out", "plan.done": "done elsewhere", "plan.reopened": "to be done after all"}
LATER = "Until one is chosen, the later one counts."
LATER_MARGIN = "Until one is chosen, the later one counts. A margin chosen after times are known binds less, and the page of the two says so."
STRICT = "Until one is chosen, only what all of them allow counts."
NOTHING = "nothing"


def group_words(key: str, names: dict[str, str]) -> str:
    """What a group of times is called; its key without the word before the colon where nobody here knows a name."""
    return names.get(key) or key.partition(":")[2]


def value_words(name: str, value: object, names: dict[str, str]) -> str:
    """A value of a field as a person would say it; `names` are those of finds by their id."""
    if value is None or value in ("", []):
        return "no limit" if name in ("limit_g", "limit_piece_g") else NOTHING
    match name:
        case "state":
            return STATES[value]
        case "link":
            return LINKS[value]
        case "tests":
            return ", ".join(TEST_WORDS[test] for test in value)
        case "limit_g" | "limit_piece_g":
            return f"{grams(value)} g"
        case "find":
            return names.get(value, "a find that is not known here")
    return str(value)
