"""The pages of findings over HTTP, on the invented workshop and on trials made for one question."""

import html
import re

import numpy as np
import pytest
from scipy import stats

from demo.workshop import fill
from server.finding import say
from tests.client import Client
from tests.entries import WALL_0, entry, new_id, whole_trial
from tests.measured import glass, whole
from tests.unit.session.test_queue import CONDITIONS, SESSION, made

SOFT, STIFF = [13.1, 15.8, 14.2, 13.9, 14.9], [17.0, 19.1, 18.2, 17.7]


@pytest.fixture
def client(app):
    return Client(app)


def text_of(answer) -> str:
    assert answer.status_code == 200, answer.status_code
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def push(client, entries) -> list[str]:
    answer = client.post("/sync/push", json={"entries": entries})
    assert answer.status_code == 200, answer.text
    return [v["verdict"] for v in answer.json()["verdicts"]]


def two_glasses(client, **more) -> None:
    """Five kept trials of one invented glass and four of another."""
    for key, times in (("demo-soft", SOFT), ("demo-stiff", STIFF)):
        for s in times:
            assert set(push(client, whole_trial(at_s=(0, s, 6 * s, 6 * s + 5, 6 * s + 40), glass_key=key, glass_name=f"{key} (invented)", **more))) == {"stored"}


PAIR = "/results/compare?first=glass:demo-soft&second=glass:demo-stiff&lane=sag"


def test_the_invented_workshop_can_be_read_on_every_page(app):
    fill(app.state.store)
    client = Client(app)
    for path in ("/results/findings", "/results/findings?by=corrected&kind=piece", "/results/scatter", "/results/scatter?lane=round", "/results/compare", "/results/compare?percent=20", "/results/findings?torch=none", "/results/foreseen", "/results/foreseen?lane=round", "/results/foreseen?lane=glow", "/results/unknown", "/results/report"):
        answer = client.get(path)
        assert answer.status_code == 200 and "None" not in re.sub(r"<[^>]+>", "", answer.text), path
    assert "8 % slower" in client.get("/results").text or "Softest is Demo bead glass" in text_of(client.get("/results/findings"))
    assert client.get("/results/findings.csv").text.count("\r\n") > 100
    drift = text_of(client.get("/results/scatter?lane=round"))
    assert "The reference took 155.4, then 158.8, then 168.3 s" in drift


def test_two_glasses_side_by_side_say_what_scipy_says(client):
    two_glasses(client)
    said = text_of(client.get(PAIR))
    welch = stats.ttest_ind(np.log(SOFT), np.log(STIFF), equal_var=False).confidence_interval(0.95)
    low, high, ratio = np.exp(welch.low), np.exp(welch.high), stats.gmean(SOFT) / stats.gmean(STIFF)
    assert f"took {ratio:.2f} times as long to sag as demo-stiff (invented) (95 % interval {low:.2f} to {high:.2f}" in said and "n = 5 and 4" in said
    assert "No margin was said for these two" in said


def test_a_margin_said_at_the_desk_is_kept_with_its_moment(client):
    two_glasses(client)
    margin = entry("finding.margin", new_id(), 0, {"first": "glass:demo-stiff", "second": "glass:demo-soft", "lane": "sag", "percent": 50.0}, WALL_0 + 3_600_000)
    assert push(client, [margin]) == ["stored"]
    said = text_of(client.get(PAIR))
    assert "Alike. Within 50 % of each other" in said and "Margin 50 %, said at the desk on" in said and "after some of these times could be known" in said
    assert "No margin was said" in text_of(client.get(PAIR.replace("lane=sag", "lane=round")))
    early = {**margin, "id": new_id(), "subject": new_id(), "at_ms": WALL_0 - 1000, "body": {**margin["body"], "percent": 5.0}}
    assert push(client, [early]) == ["stored"]
    assert "Margin 50 %" in text_of(client.get(PAIR))  # the one said last counts
    wrong = {**margin, "id": new_id(), "body": {**margin["body"], "percent": 0.0}}
    assert push(client, [wrong]) == ["refused"]


def test_the_margin_of_a_blind_plan_was_said_before(client):
    """Times of a blind session are known from its close on, so the plan's margin binds."""
    plan = made(margin_percent=10.0, glasses=[{"key": "demo-soft", "name": "demo-soft (invented)", "piece_id": None, "piece": None, "consent": None}, {"key": "demo-stiff", "name": "demo-stiff (invented)", "piece_id": None, "piece": None, "consent": None}])
    assert push(client, [{**plan, "at_ms": WALL_0 - 60_000}]) == ["stored"]
    two_glasses(client, session=SESSION, run=0, code="AA")
    assert "No kept trial fits" in text_of(client.get("/results/findings"))  # covered
    assert push(client, [entry("plan.closed", SESSION, 1, {"why": ""}, WALL_0 + 9_000_000)]) == ["stored"]
    said = text_of(client.get(PAIR))
    assert "Not alike. They differ by more than 10 %" in said and "said with the plan" in said and "before any of these times was known" in said


def test_every_two_of_them_in_a_table_are_corrected_for_their_number(client):
    two_glasses(client)
    for s in (16.0, 15.2):
        push(client, whole_trial(at_s=(0, s, 6 * s, 6 * s + 5, 6 * s + 40), glass_key="demo-third", glass_name="demo-third (invented)"))
    said = text_of(client.get("/results/compare?percent=20"))
    assert "corrected for 3 comparisons (Holm)" in said and "row ÷ column" in said
    assert "Fewer than two of them" in text_of(client.get("/results/compare?percent=20&torch=none"))


def test_a_time_left_out_with_a_reason_leaves_the_medians(client):
    two_glasses(client)
    outlier = whole_trial(at_s=(0, 40.0, 200, 205, 240), glass_key="demo-soft", glass_name="demo-soft (invented)")
    push(client, outlier)
    before = text_of(client.get(PAIR))
    push(client, [entry("trial.left_out", outlier[0]["subject"], 0, {"lane": "all", "why": "the chip fell"}, WALL_0 + 900_000)])
    after = text_of(client.get(PAIR))
    assert "n = 6 and 4" in before and "n = 5 and 4" in after
    assert "the chip fell" in text_of(client.get(f"/results/trial/{outlier[0]['subject']}"))


REFERENCE_S, UNKNOWN_S = [20.1, 22.4, 19.2, 21.0, 20.6], [16.2, 17.9, 15.5, 16.8, 17.1]
UNKNOWN = "/results/unknown?piece=piece:DEMO-17&reference=glass:modern-float"


def offset_trials(client, **more) -> None:
    """Five trials of float glass and five of a piece, 2 g each."""
    for s in REFERENCE_S:
        push(client, whole_trial(at_s=(0, s, 8 * s, 8 * s + 5, 8 * s + 45), glass_key="modern-float", glass_name="Modern float glass", **more))
    for s in UNKNOWN_S:
        push(client, whole_trial(at_s=(0, s, 8 * s, 8 * s + 5, 8 * s + 45), piece="DEMO-17", consent=True, glass_key=None, glass_name="", **more))


def test_the_offset_of_an_unknown_piece_is_that_of_the_worked_check(client):
    """The groundwork's worked check (B01 to B05): ratio 0.808, -44.3 K, reported half width 31.7 K."""
    assert push(client, [made(is_blind=False)]) == ["stored"]
    offset_trials(client, session=SESSION, run=0, code="AA")
    said = text_of(client.get(UNKNOWN))
    assert "Flame-softening offset against Modern float glass: −44 ± 32 K (95 %, n = 5 + 5, same session)" in said
    assert "Equivalent softening temperature, flame: about 679 ±" in said and "shown side by side and not combined" in said
    assert "Rounding" in said and "softening point, no viscosity, no composition and no date" in said


def test_without_one_session_there_is_no_offset(client):
    offset_trials(client)
    said = text_of(client.get(UNKNOWN))
    assert "No flame-softening offset of DEMO-17" in said and "belongs to no session" in said and "± 32 K" not in said
    assert "Choose the piece" in text_of(client.get("/results/unknown"))


def test_a_pull_test_of_the_piece_stands_beside_its_offset(client):
    assert push(client, [made(is_blind=False)]) == ["stored"]
    offset_trials(client, session=SESSION, run=0, code="AA")
    glasses = [glass("Modern float glass", "modern-float"), glass("Demo unknown", piece="DEMO-17")]
    assert set(push(client, whole("pull", glasses=glasses, consent=True))) == {"stored"}
    said = text_of(client.get(UNKNOWN))
    assert "Lines of evidence" in said and "Pull test" in said and "Its measured tests" in said
    assert "The lines do not agree" in said or "The independent lines agree" in said or "contradict each other" in said
    assert "How it shrinks" not in said
    assert set(push(client, whole("thread", glasses=glasses, consent=True))) == {"stored"}
    assert set(push(client, whole("strip", glasses=glasses[1:], consent=True))) == {"stored"}
    said = text_of(client.get(UNKNOWN))
    assert "How it shrinks" in said and "Thread test" in said and "Strip test" in said
    # The thread's glass A, the float, lay inside the bow and shrinks more: the piece lies below it. 5.3 less is what the thread's own page says.
    assert re.search(r"Thread test −5 ± \d+ × 10⁻⁷/K", said)


def drifting(client, **more) -> None:
    """An open session, every run an hour apart: the reference takes 5 % longer each time, within 0.1 %, and so does the other glass."""
    assert push(client, [made(is_blind=False)]) == ["stored"]
    for hour, wobble in enumerate((1.001, 0.999, 1.0, 1.001, 0.999)):
        at, slower = 3600 * hour, 1.05**hour * wobble
        stages = (0, 20.0 * slower, 150.0 * slower, 155.0 * slower, 200.0 * slower)
        push(client, whole_trial(at_s=[at + s for s in stages], glass_key="demo-rubin", glass_name="Demo Rubin rod", session=SESSION, run=0, code="AA"))
        push(client, whole_trial(at_s=[at + s * 0.9 for s in stages], glass_key="demo-stiff", glass_name="demo-stiff (invented)", session=SESSION, run=1, code="BB", **more))


def test_a_drift_is_taken_out_only_where_the_reference_shows_one_and_said_so(client):
    """Corrected, the times of the other glass agree."""
    drifting(client)

    def scatter(by: str) -> float:
        rows = [line.split(",") for line in client.get(f"/results/findings.csv?by={by}").text.splitlines()]
        return float(np.std(np.log([float(row[4]) for row in rows if row[0].startswith("demo-stiff") and row[2] == "sag"])))

    assert scatter("measured") > 0.05 and scatter("steady") < 0.005
    assert "more than chance alone shows in 19 of 20 sessions" in text_of(client.get("/results/scatter")) and "A correction adds an error of its own" in text_of(client.get("/results/findings?by=steady"))


def test_one_time_of_nothing_and_two_glasses_without_scatter_harm_no_other(client):
    """A press made twice at once gives 0 s: it does not count, and says why; times that are all the same have no scatter to judge by."""
    two_glasses(client)
    nothing = whole_trial(at_s=(0, 0, 0, 0, 0), glass_key="demo-soft", glass_name="demo-soft (invented)")
    assert set(push(client, nothing)) == {"stored"}
    for key in ("demo-same", "demo-same-too"):
        for _ in range(2):
            push(client, whole_trial(at_s=(0, 15.0, 90, 95, 130), glass_key=key, glass_name=f"{key} (invented)"))
    for path in ("/results/findings", "/results/findings?by=corrected", "/results/scatter", "/results/report", "/results/foreseen"):
        assert client.get(path).status_code == 200, path
    assert "n = 5 and 4" in text_of(client.get(PAIR))
    said = text_of(client.get("/results/compare?percent=2.5"))
    assert "corrected for 1 comparison (Holm)" in said and "2 cannot be compared" in said and "alike within 2.5 %" in said
    assert "no time passed between its presses" in text_of(client.get("/results/glass/demo-soft"))


def test_a_second_reference_is_held_to_the_protocol_too(client):
    assert push(client, [made(is_blind=False)]) == ["stored"]
    offset_trials(client, session=SESSION, run=0, code="AA")
    for s in (12.0, 12.4, 11.8):
        push(client, whole_trial(at_s=(0, s, 90, 95, 130), glass_key="ver-ven-2", glass_name="Demo natron glass", mass_g=4.5))
    said = text_of(client.get(f"{UNKNOWN}&second=glass:ver-ven-2"))
    assert "−44 ± 32 K" in said and "Nothing is laid between the two references" in said and "belongs to no session" in said


def test_another_way_of_holding_in_mid_session_is_seen(client):
    assert push(client, [made(is_blind=False)]) == ["stored"]
    changed = {"conditions": {**CONDITIONS, "holder": "now on a mandrel"}, "why": ""}
    assert push(client, [entry("plan.conditions", SESSION, 1, changed, WALL_0 - 500)]) == ["stored"]
    offset_trials(client, session=SESSION, run=0, code="AA")
    assert "−44 ± 32 K" in text_of(client.get(UNKNOWN))  # all of them were held so
    late = entry("plan.conditions", SESSION, 2, {"conditions": {**CONDITIONS, "holder": "tongs"}, "why": ""}, WALL_0 + 1_000_000)
    assert push(client, [late]) == ["stored"]
    for at in (2000, 2600):
        push(client, whole_trial(at_s=(at, at + 16.9, at + 130, at + 135, at + 170), piece="DEMO-17", consent=True, glass_key=None, glass_name="", session=SESSION, run=0, code="AA"))
    assert "held in different ways" in text_of(client.get(UNKNOWN))


def test_drift_is_taken_out_by_the_whole_session_whatever_is_shown_and_no_verdict_is_made_of_it(client):
    drifting(client, mass_g=3.0)

    def times(query: str) -> list[str]:
        rows = [line.split(",") for line in client.get(f"/results/findings.csv?{query}").text.splitlines()]
        return [row[4] for row in rows if row[0].startswith("demo-stiff") and row[2] == "sag"]

    assert times("by=steady") == times("by=steady&least_g=2.5") != times("by=measured")
    pair = "/results/compare?first=glass:demo-stiff&second=glass:demo-rubin&lane=sag"
    assert "times as measured" in text_of(client.get(f"{pair}&by=steady")) and "The masses differ by a factor of 1.50 and are not corrected for" in text_of(client.get(pair))
    assert "may be off by 4 %, which the interval does not hold" in text_of(client.get(f"{pair}&by=corrected"))
    assert "Times stand as measured" in text_of(client.get("/results/report?by=steady"))


def test_a_covered_session_tells_not_even_its_name(client):
    assert push(client, [made(title="Secret natron session (invented)")]) == ["stored"]
    two_glasses(client, session=SESSION, run=0, code="AA")
    for path in ("/results/findings", f"/results/report?session={SESSION}", "/results/scatter", "/results/foreseen", PAIR, "/results/findings.csv"):
        assert "Secret" not in client.get(path).text and "demo-soft (invented)" not in client.get(path).text, path


def test_reference_runs_moments_apart_tell_no_growth_beyond_saying(client):
    assert push(client, [made(is_blind=False)]) == ["stored"]
    for at, s in ((0, 20.0), (1, 26.0), (2, 19.0)):
        push(client, whole_trial(at_s=[at + x for x in (0, s, 150, 155, 190)], glass_key="demo-rubin", glass_name="Demo Rubin rod", session=SESSION, run=0, code="AA"))
    said = text_of(client.get("/results/scatter"))
    assert "The reference took 20.0, then 26.0, then 19.0 s" in said and "from the first to the last" in said
    assert client.get(f"/results/report?session={SESSION}").status_code == 200


def test_a_book_of_many_sessions_draws_the_newest_and_counts_the_others(client):
    """Two more sessions than a page draws, and more times left out than a report names: bounded, and it says what is not shown."""
    plan, told = made(is_blind=False), []
    for place in range(say.MOST_SESSIONS + 2):
        number = new_id()
        told.append(plan | {"id": new_id(), "subject": number, "at_ms": WALL_0 + 1000 * place, "body": plan["body"] | {"title": f"Demo day {place}"}})
        for hour in range(2):
            told += whole_trial(at_s=[3600 * (place * 3 + hour) + s for s in (0, 20, 150, 155, 200)], glass_key="demo-rubin", glass_name="Demo Rubin rod", session=number, run=0, code="AA")
    assert set(push(client, told)) == {"stored"}
    for path, words in (("/results/scatter", "2 earlier sessions are not drawn here"), ("/results/report", "2 earlier sessions are not drawn here"), ("/results/foreseen", "2 earlier sessions are in the picture")):
        text = text_of(client.get(path))
        assert words in text, path
    scatter = text_of(client.get("/results/scatter"))
    assert client.get("/results/scatter").text.count("Reference runs over the hours") == say.MOST_SESSIONS
    assert f"Demo day {say.MOST_SESSIONS + 1} " in scatter and scatter.count("Demo day 1 ") == 1  # in the filter alone


def test_a_report_names_some_of_many_times_left_out_and_leaves_a_long_table_to_its_file(client, monkeypatch):
    two_glasses(client)
    trials = [whole_trial(at_s=(0, 20.0 + i, 90, 95, 130), glass_key="demo-soft", glass_name="demo-soft (invented)") for i in range(4)]
    for trial in trials:
        push(client, trial)
        push(client, [entry("trial.left_out", trial[0]["subject"], 9, {"lane": "sag", "why": "Demo draught"})])
    monkeypatch.setattr(say, "MOST_LEFT_OUT", 3)
    assert text_of(client.get("/results/report")).count("Demo draught") == 3
    assert "and 1 more, which the table of every time names" in text_of(client.get("/results/report"))
    assert "data-csv" in client.get("/results/report").text
    monkeypatch.setattr(say, "MOST_TIMES", 12)
    page = client.get("/results/report").text
    assert "data-csv" not in page and "/results/findings.csv?" in page
