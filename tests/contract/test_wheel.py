"""The wheel serves as well as the checkout: built, installed into a bare folder, and run from elsewhere."""

import csv
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import httpx
import pytest

from tests.processes import Served

ROOT = Path(__file__).parents[2]
# Runs `python -m server` with the installed wheel in front and without the checkout, which an editable install puts on the path.
FROM_WHEEL = """
import runpy, sys
from pathlib import Path
installed, checkout = Path(sys.argv[1]), Path(sys.argv[2])
sys.path[:] = [str(installed), *(p for p in sys.path if Path(p or ".").resolve() != checkout)]
import demo, server
assert all(Path(m.__file__).is_relative_to(installed) for m in (demo, server))
sys.argv[:] = ["isokom", *sys.argv[3:]]
runpy.run_module("server", run_name="__main__", alter_sys=True)
"""


def run(*words) -> None:
    """Run to the end; the output is shown when it fails."""
    done = subprocess.run([sys.executable, "-m", *map(str, words)], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run("build", "--wheel", "--no-isolation", "--outdir", folder, ROOT)
    (found,) = folder.glob("isokom-*.whl")
    return found


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("installed").resolve()
    run("pip", "install", "--quiet", "--no-index", "--no-deps", "--target", folder, wheel)
    return folder


@pytest.fixture
def command(installed) -> list:
    return [sys.executable, "-I", "-c", FROM_WHEEL, installed, ROOT]


def test_the_wheel_holds_every_template_and_static_file(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    for folder in ("templates", "static"):
        wanted = {f"server/pages/{p.relative_to(ROOT)}" for p in (ROOT / folder).rglob("*") if p.is_file()}
        assert len(wanted) > 10
        assert wanted - names == set()


def test_the_wheel_holds_every_data_file_and_module_of_the_server(wheel):
    names = set(zipfile.ZipFile(wheel).namelist())
    wanted = {str(p.relative_to(ROOT)) for top in ("server", "demo") for p in (ROOT / top).rglob("*") if p.suffix in {".py", ".json", ".csv", ".mako"}}
    assert "server/store/steps/versions/0001_first.py" in wanted
    assert wanted - names == set()


def test_open_measurements_and_tests_stay_out_of_the_wheel(wheel):
    archive = zipfile.ZipFile(wheel)
    names = archive.namelist()
    assert {name.split("/")[0] for name in names if ".dist-info/" not in name} == {"server", "demo"}
    kept_out = {p.name for p in (ROOT / "tests/reference/open").iterdir()}
    assert kept_out and kept_out.isdisjoint(name.rsplit("/", 1)[-1] for name in names)
    with (ROOT / "tests/reference/open/viscosity-sources.csv").open(newline="") as file:
        cells = {cell for row in csv.reader(file) for cell in row if len(cell) > 60}
    held = b"".join(archive.read(name) for name in names)
    assert not any(cell.encode() in held for cell in cells)


def test_the_wheel_says_its_licence_and_brings_those_of_vendored_files(wheel):
    archive = zipfile.ZipFile(wheel)
    (metadata,) = (archive.read(name).decode() for name in archive.namelist() if name.endswith(".dist-info/METADATA"))
    assert re.search(r"^License-Expression: MIT$", metadata, re.M)
    assert "## Licence\n\nMIT" in metadata
    assert {"htmx.LICENSE.txt", "idb.LICENSE.txt"} <= {name.rsplit("/", 1)[-1] for name in archive.namelist()}


def test_the_installed_wheel_serves(command, tmp_path):
    with Served("serve", "--port", "0", "--database", tmp_path / "b.db", command=command, cwd=tmp_path) as served, httpx.Client(base_url=served.url) as client:
        home = client.get("/glass")
        for path in ("/glass/modern-float", "/sw.js", "/glass/models.json", "/bench", "/results", "/sync", "/manifest.webmanifest"):
            assert client.get(path).status_code == 200, path
        assert "Float" in client.get("/glass/modern-float").text
        linked = re.findall(r'(?:href|src)="(/static/[^"#]+)', home.text)
        assert len(linked) >= 5
        assert {path: client.get(path).status_code for path in linked} == dict.fromkeys(linked, 200)
        assert served.stop() == 0
    assert served.stderr == ""


def test_the_installed_wheel_runs_the_demo(command, tmp_path):
    with Served("demo", "--port", "0", command=command, cwd=tmp_path) as served:
        assert "invented" in httpx.get(f"{served.url}/results").text
        assert served.stop() == 0


def test_the_installed_wheel_estimates(command, tmp_path):
    (tmp_path / "in.csv").write_text("id,SiO2,Al2O3,Na2O,K2O,CaO,MgO\nx,72.6,1.0,13.6,0.5,8.6,3.7\n")
    done = subprocess.run([*map(str, command), "estimate", "in.csv", "-o", "out.csv"], cwd=tmp_path, capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out.csv").read_text().splitlines()[1].startswith("x,ok,")
