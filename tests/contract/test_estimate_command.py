"""`isokom estimate`: what the README promises of its table, and that a bad row or a full disk never costs more than itself."""

import csv
import io
import json
import math
import random
import re
import subprocess
import sys
from pathlib import Path

import pytest

from server.command.estimate import METHODS
from server.physics import analysis
from tests.processes import isokom

ROOT = Path(__file__).parents[2]
# log10(η/dPa·s) at the named points, as ISO 7884 and the README define them.
LOG_ETA = {"t_working_c": 4.0, "t_softening_c": 7.6, "t_annealing_c": 13.0}
HEAD = "id,SiO2,Al2O3,Na2O,K2O,CaO,MgO"
csv.field_size_limit(2**31 - 1)  # the reader of this test, not of the program
FLOAT = "72.6,1.0,13.6,0.5,8.6,3.7"


def estimated(tmp_path: Path, content: str | bytes, **options) -> tuple[list[dict[str, str]], str]:
    """(rows of the output, what was said on stderr) of a run that succeeds."""
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_bytes(content if isinstance(content, bytes) else content.encode())
    done = isokom("estimate", source, "-o", target, **options)
    assert (done.returncode, done.stdout) == (0, ""), done.stderr
    with target.open(encoding="utf-8", errors="surrogateescape", newline="") as file:
        return list(csv.DictReader(file, strict=True)), done.stderr


def refused(tmp_path: Path, content: bytes) -> str:
    """The sentence of a run that fails; the output of an earlier run stays as it was."""
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_bytes(content)
    target.write_text("earlier")
    done = isokom("estimate", source, "-o", target)
    assert done.returncode == 1 and "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1 and done.stderr.startswith("isokom: ")
    assert target.read_text() == "earlier"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in.csv", "out.csv"]
    return done.stderr


def test_columns_are_those_of_the_readme(tmp_path):
    rows, _ = estimated(tmp_path, f"{HEAD}\na,{FLOAT}\n")
    promised = re.findall(r"`([a-z0-9_]+)`", "".join(re.findall(r"^\| (`[^|]+) \|", (ROOT / "README.md").read_text(), re.M)))
    columns = list(rows[0])
    assert len(promised) >= 8 and set(promised) <= set(columns)
    with_u = [c for c in columns if "_u_" in c]
    assert [c.replace("_u_", "_") for c in with_u] == [c for c in columns if c.startswith(("t_", "alpha")) and "_u_" not in c]
    assert set(columns) == set(promised) | set(with_u)


def test_values_obey_the_definitions(tmp_path):
    (row,), _ = estimated(tmp_path, f"{HEAD}\nfloat,{FLOAT}\n")
    a, b, t0_c = (float(row[name]) for name in ("vft_a", "vft_b", "vft_t0_c"))
    assert row["status"] == "ok"
    for name, log_eta in LOG_ETA.items():
        assert a + b / (float(row[name]) - t0_c) == pytest.approx(log_eta, abs=0.02)
    points = [float(row[name]) for name in ("t_working_c", "t_softening_c", "t_annealing_c", "t_strain_c")]
    assert points == sorted(points, reverse=True)
    assert all(float(row[name]) > 0 for name in row if "_u_" in name)


def test_order_ids_and_count_are_those_of_the_input(tmp_path):
    ids = ["z", "a", "with, comma", 'with "quotes"', "ünï", "z", "", "=1+1"]
    source = io.StringIO()
    csv.writer(source, lineterminator="\n").writerows([HEAD.split(","), *([i, *FLOAT.split(",")] for i in ids)])
    rows, said = estimated(tmp_path, source.getvalue())
    assert [row["id"] for row in rows] == ids
    assert f"{len(ids)} rows" in said


BAD = {
    "word": "lots,1,14,1,8,3",
    "negative": "72,-1,14,1,8,3",
    "over": "172,1,14,1,8,3",
    "infinite": "inf,1,14,1,8,3",
    "huge": "1e999,1,14,1,8,3",
    "two-ways": '72,1,14,1,"8,600",3',
    "underscore": "7_2,1,14,1,8,3",
    "long": "72,1,14,1,8,3,5,6",
    "empty": ",,,,,",
    "half": "30,1,5,,,",
}


def test_a_bad_row_is_refused_with_a_reason_and_stops_nothing(tmp_path):
    between = [f"good-{name},{FLOAT}\n{name},{cells}" for name, cells in BAD.items()]
    rows, said = estimated(tmp_path, "\n".join([HEAD, *between, f"last,{FLOAT}"]))
    by_id = {row["id"]: row for row in rows}
    assert len(rows) == 2 * len(BAD) + 1
    for name in BAD:
        row = by_id[name]
        assert row["status"] == "refused" and len(row["notes"]) > 10, row
        assert not any(value for column, value in row.items() if column not in ("id", "status", "notes")), row
        assert by_id[f"good-{name}"] == {**by_id["last"], "id": f"good-{name}"}
    assert f"{len(BAD)} refused" in said


@pytest.mark.parametrize(("name", "cell", "meaning"), [("comma", '"13,6"', "13.6"), ("below", "<0.05", "0"), ("bd", "bd", "0"), ("blank", "", "0"), ("spaces", " 13.6 ", "13.6")])
def test_cells_as_they_are_published(tmp_path, name, cell, meaning):
    head = "id,SiO2,Na2O,CaO,MgO,K2O,Al2O3"
    line = ["75.0", "13.6", "8.6", "3.7", "0.5", "1.0"]
    place = 1 if meaning != "0" else 5
    as_published, as_plain = line.copy(), line.copy()
    as_published[place], as_plain[place] = cell, meaning
    rows, _ = estimated(tmp_path, f"{head}\nx,{','.join(as_published)}\nx,{','.join(as_plain)}\n")
    assert rows[0] == rows[1] and rows[0]["status"] in ("ok", "extrapolated")


PUBLISHED = [case for case in json.loads((ROOT / "tests/reference/values/cells.json").read_text(encoding="utf-8"))["cells"] if case["text"].strip() not in ("", ".")]


def test_every_cell_that_intake_understands_is_understood(tmp_path):
    """The cases of tests/reference/values/cells.json as CaO of a glass: the same row as with the plain figure, or refused with a reason."""
    source = io.StringIO()
    rows = [line for i, case in enumerate(PUBLISHED) for line in ([f"as-{i}", "72.6", case["text"]], [f"plain-{i}", "72.6", str(0 if case.get("none") or case.get("below") or "code" in case else case["value"])])]
    csv.writer(source, lineterminator="\n").writerows([["id", "SiO2", "CaO", "Na2O", "MgO", "Al2O3"], *([*row, "13.6", "1", "3"] for row in rows)])
    made, _ = estimated(tmp_path, source.getvalue())
    by_id = {row["id"]: row for row in made}
    for i, case in enumerate(PUBLISHED):
        row, plain = by_id[f"as-{i}"], by_id[f"plain-{i}"]
        if "code" in case:
            assert row["status"] == "refused" and row["notes"].startswith("CaO: "), case
        else:
            wider = {name for name in row if row[name] != plain[name]} - {"id"}
            assert wider <= {name for name in row if "_u_" in name} and row["status"] == plain["status"], (case, wider)
            assert "sd" in case or not wider, (case, wider)


def test_a_given_sd_widens_its_own_row_alone(tmp_path):
    """Without a method the other figures count as exact; with one, a smaller sd never narrows (as for own glasses)."""
    cells = FLOAT.replace("13.6", "13.6 ± 1.5")
    rows, _ = estimated(tmp_path, f"{HEAD}\nplain,{FLOAT}\nwide,{cells}\n")
    alone, _ = estimated(tmp_path, f"{HEAD}\nplain,{FLOAT}\n")
    assert rows[0] == alone[0]
    for name, value in rows[0].items():
        if "_u_" in name and value:
            assert float(rows[1][name]) > float(value), name
        elif name not in ("id", "notes"):
            assert rows[1][name] == value, name


def test_a_byte_order_mark_and_windows_line_ends_change_nothing(tmp_path):
    plain, _ = estimated(tmp_path, f"{HEAD}\na,{FLOAT}\n")
    marked, _ = estimated(tmp_path, b"\xef\xbb\xbf" + f"{HEAD}\r\na,{FLOAT}\r\n".encode())
    assert marked == plain


def test_letters_that_are_not_utf_8_come_back_as_they_were(tmp_path):
    estimated(tmp_path, f"{HEAD}\n".encode() + b"pi\xe8ce," + FLOAT.encode() + b"\n")
    assert (tmp_path / "out.csv").read_bytes().splitlines()[1].startswith(b"pi\xe8ce,")


def test_unknown_columns_are_left_alone_and_named(tmp_path):
    plain, _ = estimated(tmp_path, f"{HEAD}\na,{FLOAT}\n")
    rows, said = estimated(tmp_path, f"site,{HEAD},Unobtainium\nsomewhere,a,{FLOAT},99\n")
    assert rows == plain
    assert "site" in said and "Unobtainium" in said


def test_a_short_row_reads_as_blanks(tmp_path):
    rows, _ = estimated(tmp_path, f"{HEAD}\na,75.5,1.0,14.9,0.5,8.1\nb,75.5,1.0,14.9,0.5,8.1,0\n\nc\n")
    assert [row["id"] for row in rows] == ["a", "b", "c"]
    assert {**rows[0], "id": ""} == {**rows[1], "id": ""}
    assert rows[2]["status"] == "refused"


REFUSED = {
    "no id column": (b"name,SiO2\na,70\n", "id"),
    "no oxide": (b"id,colour\na,blue\n", "oxide"),
    "an oxide twice": (b"id,SiO2,sio2\na,70,70\n", "SiO2"),
    "semicolons": (b"id;SiO2;Na2O\na;70,5;14\n", "semicolons"),
    "tabs": (b"id\tSiO2\tNa2O\na\t70\t14\n", "tabs"),
    "another encoding": ("id,SiO2\na,70\n".encode("utf-16"), "UTF-16"),
    "nothing": (b"", "id"),
    "a spreadsheet's own file": (b"PK\x03\x04" + bytes(range(256)) * 40, "id"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_is_no_such_table_is_refused_whole(tmp_path, name):
    content, word = REFUSED[name]
    assert word in refused(tmp_path, content)


def test_20_mb_of_garbage_are_refused_in_one_sentence(tmp_path):
    assert len(refused(tmp_path, random.Random(20).randbytes(20_000_000))) < 400


def test_garbage_below_a_good_header_costs_only_its_rows(tmp_path):
    letters = random.Random(21).choices("0123456789.,<- \tabcö", k=400_000)
    garbage = "\n".join("".join(letters[i : i + 40]) for i in range(0, len(letters), 40))
    rows, _ = estimated(tmp_path, f"{HEAD}\nfirst,{FLOAT}\n{garbage}\nlast,{FLOAT}\n")
    assert rows[0]["status"] == rows[-1]["status"] == "ok"
    assert {**rows[0], "id": ""} == {**rows[-1], "id": ""}
    assert sum(row["status"] == "refused" for row in rows) > 9_000
    numbers = [float(v) for row in rows for c, v in row.items() if v and c not in ("id", "status", "notes")]
    assert all(math.isfinite(v) for v in numbers)


def test_a_missing_file_is_named(tmp_path):
    done = isokom("estimate", tmp_path / "nowhere.csv", "-o", tmp_path / "out.csv")
    assert done.returncode == 1 and str(tmp_path / "nowhere.csv") in done.stderr and "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("place", ["no/such/folder/out.csv", ".", "/proc/out.csv", "/dev/null", "in.csv/out.csv"])
def test_an_output_that_cannot_be_written_is_named(tmp_path, place):
    (tmp_path / "in.csv").write_text(f"{HEAD}\na,{FLOAT}\n")
    done = isokom("estimate", tmp_path / "in.csv", "-o", tmp_path / place)
    assert done.returncode == 1 and "Traceback" not in done.stderr
    assert str(tmp_path / place) in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["in.csv"]
    assert Path("/dev/null").is_char_device()


def test_a_full_disk_keeps_the_earlier_output(tmp_path):
    source, target = tmp_path / "in.csv", tmp_path / "out.csv"
    source.write_text("\n".join([HEAD, *[f"{i},{FLOAT}" for i in range(5_000)]]))
    target.write_text("earlier")
    done = isokom("estimate", source, "-o", target, preexec_fn=_allow_100_kb)
    assert done.returncode == 1 and "Traceback" not in done.stderr
    assert str(target) in done.stderr and "Nothing was written" in done.stderr
    assert target.read_text() == "earlier"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in.csv", "out.csv"]


def _allow_100_kb() -> None:
    """In the child: writing past 100 kB fails, as on a full disk."""
    import resource
    import signal

    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))


def test_a_link_stays_a_link(tmp_path):
    plain, _ = estimated(tmp_path, f"{HEAD}\na,{FLOAT}\n")
    (tmp_path / "real.csv").write_text("earlier")
    (tmp_path / "link.csv").symlink_to(tmp_path / "real.csv")
    assert isokom("estimate", tmp_path / "in.csv", "-o", tmp_path / "link.csv").returncode == 0
    assert (tmp_path / "link.csv").is_symlink()
    assert list(csv.DictReader(io.StringIO((tmp_path / "real.csv").read_text()))) == plain


@pytest.mark.parametrize("name", ["in.csv", "link.csv"])
def test_the_analyses_are_never_overwritten_by_their_results(tmp_path, name):
    (tmp_path / "in.csv").write_text(f"{HEAD}\na,{FLOAT}\n")
    (tmp_path / "link.csv").symlink_to(tmp_path / "in.csv")
    done = isokom("estimate", tmp_path / "in.csv", "-o", tmp_path / name)
    assert done.returncode == 1 and "the table of analyses itself" in done.stderr
    assert (tmp_path / "in.csv").read_text() == f"{HEAD}\na,{FLOAT}\n"


def test_an_unclosed_quote_costs_its_own_row(tmp_path):
    rows, _done = estimated(tmp_path, f'{HEAD}\na,{FLOAT}\n"b,{FLOAT}\nc,{FLOAT}\n'.encode() + b'"' + b"x" * 300_000 + b"\n" + f"d,{FLOAT}\n".encode())
    assert [row["id"][:3] for row in rows] == ["a", "b", "c", "xxx", "d"]
    assert [row["status"] for row in rows] == ["ok", "refused", "ok", "refused", "ok"]
    assert "never closed" in rows[1]["notes"]


def run_with(tmp_path: Path, *flags: str) -> str:
    """The output of the command with more flags on a good, a lead and a bad row."""
    source, target = tmp_path / "in.csv", tmp_path / "out"
    source.write_text(f"{HEAD},PbO\ngood,{FLOAT},\nlead,50,0.5,5,5,1,0.5,38\nbad,x,1,1,1,1,1,\n")
    done = isokom("estimate", source, "-o", target, *flags)
    assert done.returncode == 0, done.stderr
    return target.read_text()


def test_json_holds_what_the_csv_holds(tmp_path):
    plain = list(csv.DictReader(run_with(tmp_path).splitlines()))
    objects = json.loads(run_with(tmp_path, "--json"))
    assert [list(o) for o in objects] == [list(plain[0])] * 3
    for one, row in zip(objects, plain, strict=True):
        for name, value in one.items():
            if isinstance(value, float):
                assert value == float(row[name])
            else:
                assert (value or "") == row[name]
    assert objects[0]["t_softening_c"] > 600 and objects[1]["t_softening_c"] is None
    assert json.loads(run_with(tmp_path, "--json", "--models"))[0]["models"]["lakatos-1972"]["state"] == "answered"


def test_empty_input_is_an_empty_json_array(tmp_path):
    (tmp_path / "in.csv").write_text(f"{HEAD}\n")
    assert isokom("estimate", tmp_path / "in.csv", "-o", tmp_path / "out.json", "--json").returncode == 0
    assert json.loads((tmp_path / "out.json").read_text()) == []


def test_models_adds_columns_and_changes_none(tmp_path):
    plain = list(csv.DictReader(run_with(tmp_path).splitlines()))
    more = list(csv.DictReader(run_with(tmp_path, "--models").splitlines()))
    assert [{k: row[k] for k in plain[0]} for row in more] == plain
    assert more[0]["lakatos-1972:state"] == "answered" and float(more[0]["lakatos-1972:t_softening_c"]) > 600
    assert more[1]["lakatos-1972:state"] == "refused" and more[1]["lakatos-1972:t_softening_c"] == ""
    assert more[1]["appen:state"] == "answered" and float(more[1]["appen:alpha_1e7_per_k"]) > 50
    assert all(value == "refused" for name, value in more[2].items() if name.endswith(":state"))


def test_notes_tell_a_refusal_in_one_sentence_and_who_answered(tmp_path):
    """What each model did stands in the columns of --models only."""
    good, lead, bad = csv.DictReader(run_with(tmp_path).splitlines())
    assert good["notes"].startswith("Viscosity: ") and "Lakatos 1972" in good["notes"] and "Expansion: " in good["notes"]
    assert "No viscosity model may answer: PbO 38.0 wt% is above every model's limit (4 wt%)." in lead["notes"]
    for row in (good, lead, bad):
        assert "refused" not in row["notes"] and "stood aside" not in row["notes"]


def test_method_widens_and_moves_nothing(tmp_path):
    exact, doubted = (list(csv.DictReader(run_with(tmp_path, *flags).splitlines()))[0] for flags in ((), ("--method", "portable-xrf")))
    for name, value in exact.items():
        if "_u_" in name:
            assert float(doubted[name]) > float(value), name
        else:
            assert doubted[name] == value


def test_an_unknown_method_is_refused(tmp_path):
    (tmp_path / "in.csv").write_text(f"{HEAD}\na,{FLOAT}\n")
    done = isokom("estimate", tmp_path / "in.csv", "-o", tmp_path / "out.csv", "--method", "guess")
    assert done.returncode == 2 and "epma-icp" in done.stderr


def test_memory_does_not_grow_with_the_file(tmp_path):
    peak = []
    for rows in (40_000, 160_000):
        source = tmp_path / f"{rows}.csv"
        source.write_text(HEAD + "\n" + "".join(f"r{i},{FLOAT}\n" for i in range(rows)))
        script = "import resource, sys; from server.__main__ import main; main(sys.argv[1:]); print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
        done = subprocess.run([sys.executable, "-c", script, "estimate", source, "-o", tmp_path / "out.csv"], capture_output=True, text=True, check=True, cwd=ROOT)
        peak.append(int(done.stdout))
    assert peak[1] < 1.15 * peak[0]


def test_methods_of_the_command_are_those_of_the_data():
    assert set(METHODS) < set(analysis.methods())


@pytest.mark.parametrize("form", ["{} (wt%)", "{} wt%", "{} [wt.-%]", "{}_wt%", "{} (mass %)"])
def test_a_heading_may_name_its_unit_where_it_is_weight_per_cent(tmp_path, form):
    """Headings as tables have them (common practice, no source); any other unit stays unread and is named."""
    head = ",".join(["id", *(form.format(name) for name in HEAD.split(",")[1:])])
    (plain,), _ = estimated(tmp_path, f"{HEAD}\na,{FLOAT}\n")
    (named,), said = estimated(tmp_path, f"{head},Sr (ppm)\na,{FLOAT},40\n")
    assert named == plain
    assert "Not read: Sr (ppm)" in said
