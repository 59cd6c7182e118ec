"""The pages of the measured tests over HTTP: what they say, how entries reach them, and how they refuse."""

import csv
import html
import io
import json
import re

import pytest

from server.caution.caution import texts as cautions
from server.glass.catalog import glasses
from server.measure.kinds import known_tests, whole_setup
from server.measure.result import forecast, result
from server.web.shell import assets
from tests.client import Client
from tests.entries import entry, new_id
from tests.measured import JPEG, READINGS, SETUPS, glass, photo, read, start, whole
from tests.unit.glass.test_own import BODY


@pytest.fixture
def client(app):
    return Client(app)


def push(client, entries) -> list[str]:
    """Send entries; their verdicts."""
    answer = client.post("/sync/push", json={"entries": entries})
    assert answer.status_code == 200, answer.text
    return [v["verdict"] for v in answer.json()["verdicts"]]


def text_of(answer) -> str:
    """What a page says, without tags."""
    assert answer.status_code == 200, answer.status_code
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", answer.text)).split())


def reckon(test: str, body: dict, estimates: dict) -> object:
    return result(test, body["glasses"], whole_setup(test, body["setup"]), READINGS[test], estimates)


def test_the_bench_pages_are_kept_by_the_tablet(client):
    shell = json.loads(client.get("/sw.js").text.split("const SHELL = ", 1)[1].split(";\n", 1)[0])
    assert {"/bench/measure", *(f"/bench/{test}" for test in SETUPS)} <= set(shell["pages"])
    assert "/results/measures" in shell["fallbacks"]
    assert any(path.endswith("/measure/run.js") for path in assets())


def test_the_choice_tells_of_each_test_what_it_tells_needs_and_warns_of(client):
    said = text_of(client.get("/bench/measure"))
    for kind in known_tests().values():
        assert kind["tells"] in said and kind["needs"][1:] in said and kind["caution"] in said
        assert "Local codes and licensed practice come before this page." in kind["caution"]
        assert kind["tells"].count(". ") == 0 and kind["tells"].endswith(".")
    assert client.get("/bench/measure").text.count('href="/cautions"') == len(known_tests())
    assert 'href="/bench/measure"' in client.get("/bench").text and 'href="/results/measures"' in client.get("/results").text


@pytest.mark.parametrize("test", SETUPS)
def test_a_bench_page_carries_its_list_in_the_order_of_the_file(client, test):
    page = client.get(f"/bench/{test}").text
    carried = json.loads(re.search(r'<script type="application/json" id="kind">(.*?)</script>', page, re.S)[1])
    assert carried == {"test": test, **known_tests()[test]}
    assert list(carried["quantities"]) == list(known_tests()[test]["quantities"])
    for name, about in known_tests()[test]["setup"].items():
        assert about["label"] in html.unescape(page), name
    assert "keeper has agreed" in page
    card = page.split('id="task-caution"')[1].split('id="task-number"')[0]
    for key in known_tests()[test]["cautions"]:
        assert f'data-caution="{key}"' in card and f'data-caution="{key}"' in page.split('id="part-run"')[0]
        assert all(" ".join(line.split()) in html.unescape(card) for line in cautions()[key]["lines"])


@pytest.mark.parametrize("test", SETUPS)
def test_a_test_pushed_is_reckoned_in_the_fragment_and_on_its_page(client, test):
    entries = whole(test)
    assert set(push(client, entries)) == {"stored"} and set(push(client, entries)) == {"same"}
    body, subject = entries[0]["body"], entries[0]["subject"]
    estimates = {letter: glasses()[glass["key"]].report for letter, glass in zip("AB", body["glasses"], strict=False)}
    made = reckon(test, body, estimates)
    fragment, page = client.get(f"/frag/measure/{subject}"), client.get(f"/results/measure/{subject}")
    assert "<html" not in fragment.text and "style=" not in page.text and "HX-Request" in fragment.headers["vary"]
    for said in (text_of(fragment), text_of(page)):
        for words in (made.sentence, *made.cautions, *made.advice, *made.sources, *(made.refused,) * bool(made.refused), *(w for row in made.rows for w in row)):
            assert " ".join(words.split()) in said, words
    assert fragment.text.count('class="lane-point"') == len(made.lanes)
    assert text_of(page).count("Kept") == 1 and "Modern float glass" in page.text


def test_the_tests_of_an_own_glass_are_reckoned_with_its_analysis(client):
    own = entry("glass.added", new_id(), 0, BODY)
    test = start("pull", glasses=[{"key": key, "name": name, "piece_id": None, "piece": None, "mass_g": None} for key, name in (("modern-float", "Float"), (own["subject"], "Mine"))])
    readings = [read(test["subject"], n, *place, said) for n, (place, said) in enumerate(READINGS["pull"].items(), 1)]
    assert set(push(client, [test, *readings])) == {"stored"}
    without = client.get(f"/frag/measure/{test['subject']}").text
    assert set(push(client, [own])) == {"stored"}
    reports = {"A": glasses()["modern-float"].report}
    assert reckon("pull", test["body"], reports).sentence in html.unescape(without)
    assert f'href="/glass/own/{own["subject"]}"' in client.get(f"/results/measure/{test['subject']}").text


def test_readings_before_their_start_wait_in_plain_words(client):
    first, *others = whole("thread")
    push(client, others)
    assert "start of this test has not arrived" in text_of(client.get(f"/frag/measure/{first['subject']}"))
    assert "A test whose start is missing" in text_of(client.get("/results/measures"))
    push(client, [first])
    assert "has not arrived" not in text_of(client.get(f"/results/measure/{first['subject']}"))


def test_list_and_csv(client):
    assert "No measured test has arrived yet." in text_of(client.get("/results/measures"))
    assert "=" not in client.get("/results/measures.csv").text
    every = [whole(test, title=f"demo {test}") for test in SETUPS]
    push(client, sum(every, []))
    said = text_of(client.get("/results/measures"))
    assert "4 measured tests: 4 kept." in said and all(f"demo {test}" in said for test in SETUPS)
    answer = client.get("/results/measures.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8" and "attachment" in answer.headers["content-disposition"]
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert len(rows) == sum(len(r) for r in READINGS.values()) and {r["test"] for r in rows} == set(SETUPS)


def test_a_photo_is_shown_at_the_desk_and_is_nobody_elses(client):
    first = start("fuse")
    shot = photo(first["subject"], 1, place="a1", caption="Skin after firing")
    other = start("strip")
    assert push(client, [first, shot, other]) == ["stored"] * 3
    assert "Skin after firing" in text_of(client.get(f"/results/measure/{first['subject']}"))
    answer = client.get(f"/results/measure/{first['subject']}/photo/{shot['id']}.jpg")
    assert (answer.status_code, answer.headers["content-type"], answer.content[:3]) == (200, "image/jpeg", b"\xff\xd8\xff")
    assert client.get(f"/results/measure/{other['subject']}/photo/{shot['id']}.jpg").status_code == 404
    assert client.get(f"/results/measure/{first['subject']}/photo/{first['id']}.jpg").status_code == 404
    assert JPEG not in client.get(f"/frag/measure/{first['subject']}").text


def test_a_changed_reading_says_why_on_the_page(client):
    entries = whole("thread")
    change = read(entries[0]["subject"], 20, "1", "bow_mm", 3.5, why="read the wrong line")
    push(client, [*entries, change])
    page = client.get(f"/results/measure/{entries[0]['subject']}")
    assert "3.5*" in page.text and "Thread 1, bow: 3.5 mm. Why: read the wrong line" in text_of(page) and "Thread 1, bow: 6.5 mm" in text_of(page)


def test_what_people_typed_is_never_markup(client):
    first = start("thread", title="<b>bold</b>", operator="<i>me</i>")
    push(client, [first, entry("measure.noted", first["subject"], 1, {"text": "<script>x</script>"})])
    for path in (f"/results/measure/{first['subject']}", "/results/measures"):
        page = client.get(path).text
        assert "&lt;b&gt;bold" in page and "<b>bold" not in page and "<script>x" not in page


@pytest.mark.parametrize("path", ["/frag/measure/nothing", "/results/measure/nothing", "/results/measure/018f0000-0000-7000-8000-0000000000e1"])
def test_a_test_that_is_not_here_is_missing_in_words(client, path):
    answer = client.get(path)
    assert answer.status_code == 404 and "may still be on its tablet" in answer.text


def test_refusals_name_the_place(client):
    bad = read(start("pull")["subject"], 1, "1", "before_1_mm", 900.0)
    [verdict] = client.post("/sync/push", json={"entries": [bad]}).json()["verdicts"]
    assert (verdict["verdict"], verdict["code"]) == ("refused", "invalid_entry") and "outside what can be measured" in verdict["message"]
    assert push(client, [entry("measure.weighed", bad["subject"], 2, {})]) == ["refused"]


def test_desk_pages_renew_themselves_when_something_arrives(client):
    first, *others = whole("thread")
    push(client, [first])
    for path, page in (("/frag/measures", "/results/measures"), (f"/frag/measured/{first['subject']}", f"/results/measure/{first['subject']}")):
        asked = re.search(r'hx-get="([^"]+)" hx-trigger="every 5s" hx-swap="outerHTML"', client.get(page).text)[1]
        assert asked.startswith(f"{path}?seen=")
        nothing = client.get(asked)
        assert (nothing.status_code, nothing.text, nothing.headers["cache-control"]) == (204, "", "no-store")
        push(client, [others.pop(0)])
        renewed = client.get(asked)
        assert renewed.status_code == 200 and "<html" not in renewed.text and f'hx-get="{path}?seen=' in renewed.text
        assert re.search(r"seen=([0-9]+)", renewed.text)[1] > asked.split("seen=")[1]
        whole_page, part = (re.sub(r'data-made-ms="[0-9]+"', "", text) for text in (client.get(page).text, renewed.text.strip()))
        assert part in whole_page
    push(client, whole("pull"))
    assert client.get(re.search(r'hx-get="([^"]+)"', renewed.text)[1]).status_code == 204  # of another test


def test_a_stopped_test_says_so_first_and_marks_its_number(client):
    first, *readings = whole("pull")
    push(client, [first, *readings[:-1], entry("measure.abandoned", first["subject"], 20, {"reason": "the rod broke"})])
    page = client.get(f"/results/measure/{first['subject']}")
    said = text_of(page)
    sentence = reckon("pull", first["body"], {letter: glasses()[g["key"]].report for letter, g in zip("AB", first["body"]["glasses"], strict=True)}).sentence
    assert re.search(r'<p class="lead">(.*?)</p>', page.text)[1] == "Stopped: the rod broke"
    assert said.index("Stopped: the rod broke") < said.index("The latest value of each") < said.index(f"From a stopped test. {sentence}")
    fragment = client.get(f"/frag/measure/{first['subject']}")
    assert "From a stopped test." in text_of(fragment) and 'class="lead"' not in fragment.text


PIECE = "018f0000-0000-7000-8000-0000000000b7"


def piece_fuse(masses: list[float | None], said_g: float = 1.0) -> list[dict]:
    """A fuse test of a piece on squares c1, c2 …, whose chips weigh so much."""
    first = start("fuse", glasses=[glass("Modern float glass", "modern-float"), glass("DEMO-17", piece="DEMO-17", piece_id=PIECE, mass_g=said_g)], consent=True)
    made = [first]
    for i, mass in enumerate(masses, 1):
        made.append(read(first["subject"], len(made), f"c{i}", "glass", "B"))
        made += [read(first["subject"], len(made), f"c{i}", "mass_g", mass)] if mass is not None else []
    return made


@pytest.mark.parametrize(("masses", "words"), [
    ([0.5, 0.3], "The chips of DEMO-17 (B) weigh 0.80 g, but 1 g was said to be used up."),
    ([0.7, 0.6], "The chips of DEMO-17 (B) weigh 1.30 g, but 1 g was said to be used up."),
    ([1.2, None], "The chip of DEMO-17 (B) weighs 1.20 g, but 1 g was said to be used up."),
    ([0.5, 0.51], ""),
    ([0.5, None], ""),
    ([None, None], ""),
])  # fmt: skip
def test_chips_that_weigh_other_than_was_said_are_told_with_a_way_to_the_piece(client, masses, words):
    entries = piece_fuse(masses)
    push(client, entries)
    for path in ("/frag/measure/", "/results/measure/"):
        answer = client.get(path + entries[0]["subject"])
        assert ("was said to be used up" in answer.text, f'href="/finds/piece?p={PIECE}"' in answer.text) == (bool(words),) * 2
        assert words in text_of(answer)


def test_a_firing_is_foretold_until_something_is_read_after_it(client):
    first, *readings = whole("fuse")
    body = first["body"]
    reports = {letter: glasses()[g["key"]].report for letter, g in zip("AB", body["glasses"], strict=True)}
    told = forecast("fuse", body["glasses"], whole_setup("fuse", body["setup"]), reports)
    assert len(told) >= 2
    before = [e for e in readings[:-1] if "after" not in e["body"]["quantity"] and e["body"]["quantity"] != "rounding"]
    push(client, [first, *before])
    for path in (f"/frag/measure/{first['subject']}", f"/results/measure/{first['subject']}"):
        said = text_of(client.get(path))
        assert "What this firing would do" in said and all(" ".join(line.split()) in said for line in told)
    push(client, [e for e in readings if e not in before][:1])
    assert "What this firing would do" not in client.get(f"/frag/measure/{first['subject']}").text
    other = start("pull")
    push(client, [other])
    assert "would do" not in client.get(f"/frag/measure/{other['subject']}").text
