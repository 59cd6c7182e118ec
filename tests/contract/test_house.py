"""The rules of the house: who may import whom, how long things may be, what stands where. Each rule is tried on a breach as well."""

import ast
import hashlib
import re
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LONGEST_MODULE, LONGEST_FUNCTION = 300, 40
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "server", "templates", "static", "tests", "demo", "requirements-test.lock"}
DOMAINS = {p.name for p in (ROOT / "server").iterdir() if (p / "routes.py").is_file()}
NO_DOMAIN = {"web", "icons", "vendor"}
PAGELESS = {"plan"}  # domains without a page of their own

# What each part may import of ours; a module stands for itself and all below it.
MAY_IMPORT = {
    "server.errors": set(),
    "server.settings": set(),
    "server.physics": {"server.errors", "server.physics"},
    "server.store": {"server.errors", "server.settings", "server.store"},
    "server.web": {"server", "server.errors", "server.settings", "server.web"},
    "server.glass": {"server.errors", "server.physics", "server.store", "server.glass", "server.web.page", "server.web.packed"},
    "server.standin": {"server.errors", "server.physics", "server.glass.catalog", "server.glass.own", "server.standin", "server.web.page"},
    "server.intake": {"server.errors", "server.physics", "server.glass", "server.intake", "server.web.page"},
    "server.device": {"server.errors", "server.store", "server.device", "server.web.page"},
    "server.caution": {"server.errors", "server.store", "server.caution", "server.web.page"},
    "server.find": {"server.errors", "server.store", "server.glass.catalog", "server.find", "server.web.page"},
    "server.plan": {"server.errors", "server.store", "server.plan"},
    "server.trial": {"server.errors", "server.store", "server.glass.catalog", "server.find", "server.plan", "server.trial", "server.web.page"},
    "server.finding": {"server.errors", "server.store", "server.physics", "server.plan", "server.find.log", "server.trial", "server.measure", "server.glass", "server.finding", "server.web.page"},
    "server.session": {"server.errors", "server.store", "server.physics.few", "server.plan", "server.trial", "server.measure", "server.session", "server.web.page"},
    "server.sync": {"server.errors", "server.store", "server.caution", "server.glass", "server.find", "server.plan.entry", "server.trial", "server.measure.entry", "server.finding.entry", "server.device.entry", "server.make.entry", "server.sync", "server.web.page"},
    "server.keeping": {
        "server.errors", "server.settings", "server.store", "server.find.log", "server.glass.own", "server.plan.log", "server.trial.entry", "server.sync.push", "server.keeping", "server.web.page",
    },
    "server.lan": {"server.errors", "server.settings", "server.lan", "server.web.page", "server.web.square"},
    "server.access": {"server.errors", "server.store", "server.device.log", "server.access", "server.web"},
    "server.settle": {"server.errors", "server.store", "server.device.log", "server.plan", "server.find", "server.trial", "server.finding.said", "server.session.tested", "server.settle", "server.web.page"},
    "server.exchange": {"server", "server.errors", "server.store", "server.sync", "server.package.reading", "server.settle.log", "server.exchange", "server.web.page", "server.web.form"},
    "server.package": {
        "server", "server.errors", "server.store", "server.physics.composition", "server.glass.catalog", "server.glass.own", "server.glass.recipe", "server.find", "server.plan", "server.trial", "server.measure",
        "server.session", "server.sync.push", "server.package", "server.web.page", "server.finding.selection",
    },
    "server.measure": {"server.errors", "server.store", "server.physics", "server.glass.catalog", "server.glass.own", "server.plan", "server.measure", "server.web.page"},
    "server.make": {"server.errors", "server.store", "server.physics", "server.make", "server.web.page"},
    "server.pair": {"server.errors", "server.physics", "server.glass", "server.pair", "server.web.page"},
    "server.app": {"server"},
    "server.command": {"server", "demo"},
    "server.__main__": {"server"},
    "server": set(),
}
JS_MAY_IMPORT = {
    "web": {"web", "vendor"},
    "caution": {"caution", "web"},
    "glass": {"glass", "web"},
    "intake": {"intake", "web"},
    "pair": {"pair", "glass", "web"},
    "make": {"make", "glass", "web"},
    "package": {"package"},
    "exchange": {"exchange", "web"},
    "keeping": {"keeping", "web"},
    "lan": {"lan"},
    "settle": {"settle", "web"},
    "access": {"access", "web"},
    "device": {"device", "trial", "web"},
    "standin": {"standin"},
    "find": {"find", "web"},
    "plan": {"plan", "web"},
    "trial": {"trial", "plan", "find", "web"},
    "finding": {"finding", "web"},
    "session": {"session", "plan", "trial", "measure", "find", "web"},
    "sync": {"sync", "glass", "find", "trial", "web"},
    "measure": {"measure", "glass", "plan", "find", "web"},
}


def python_files() -> list[Path]:
    """Every module of the program."""
    return [p for folder in ("server", "demo") for p in sorted((ROOT / folder).rglob("*.py"))]


def scripts() -> list[Path]:
    """Every script of ours."""
    return [p for p in sorted((ROOT / "static").rglob("*.js")) if "vendor" not in p.parts]


def templates() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.html"))


def module_name(path: Path) -> str:
    """Dotted name of a module of ours."""
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def is_module(name: str) -> bool:
    place = ROOT.joinpath(*name.split("."))
    return place.is_dir() or place.with_suffix(".py").is_file()


def imported(source: str) -> set[str]:
    """Dotted names of the modules that a source imports, inside functions too. `from a import b` is a.b where that is a module of ours."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            names = {f"{node.module}.{alias.name}" for alias in node.names}
            is_ours = node.module.split(".")[0] in {"server", "demo"}
            found |= {name if is_ours and is_module(name) else node.module for name in names}
    return found


def within(name: str, allowed: set[str]) -> bool:
    """Whether a module is one of those allowed, or below one. `server` alone is the bare package with its version."""
    return any(name == a or (a != "server" and name.startswith(f"{a}.")) for a in allowed)


def breaches(name: str, source: str) -> set[str]:
    """Imports that the rules do not allow to a module."""
    found = imported(source)
    part = next(p for p in MAY_IMPORT if name == p or name.startswith(f"{p}."))
    ours = {i for i in found if i.split(".")[0] in {"server", "demo", "tests"}}
    bad = set() if part in ("server.app", "server.command", "server.__main__") else {i for i in ours if not within(i, MAY_IMPORT[part])}
    if name != "server.app":
        bad |= {i for i in ours if i.endswith(".routes")}
    if name not in ("server.app",) and not name.endswith(".routes") and part != "server.web":
        bad |= {i for i in found if i.split(".")[0] in {"fastapi", "starlette"}}
    if part == "server.physics":
        bad |= {i for i in found - ours if i.split(".")[0] not in sys.stdlib_module_names | {"numpy"}}
    return bad


@pytest.mark.parametrize("path", [p for p in python_files() if p.is_relative_to(ROOT / "server")], ids=module_name)
def test_imports_keep_to_the_rules(path):
    assert breaches(module_name(path), path.read_text()) == set()


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("server.physics.curve", "import pydantic"),
        ("server.physics.curve", "from server.store.engine import Store"),
        ("server.physics.curve", "def f():\n    from server.glass import catalog"),
        ("server.glass.own", "from server.trial import log"),
        ("server.glass.view", "import server.sync.push"),
        ("server.trial.log", "from server.glass.own import accept"),
        ("server.glass.own", "from server.intake import rows"),
        ("server.trial.log", "from server.glass import own"),
        ("server.trial.log", "from fastapi import Request"),
        ("server.store.engine", "from server.trial.entry import TrialEntry"),
        ("server.web.page", "from server.glass import catalog"),
        ("server.sync.push", "from server.trial import routes"),
        ("server.errors", "from server.settings import Settings"),
        ("server.glass.view", "from server.pair import joint"),
        ("server.pair.joint", "from server.trial import log"),
        ("server.find.log", "from server.trial import log"),
        ("server.find.ledger", "from server.glass import own"),
        ("server.measure.log", "from server.trial import log"),
        ("server.trial.log", "from server.measure import log"),
        ("server.sync.push", "from server.measure import result"),
        ("server.plan.log", "from server.trial import log"),
        ("server.measure.log", "from server.session import queue"),
        ("server.sync.push", "from server.package import bring"),
        ("server.session.queue", "from server.package import gather"),
    ],
)
def test_a_breach_of_the_import_rules_is_seen(name, source):
    assert breaches(name, source)


def test_only_the_serving_command_tests_and_demo_know_the_whole_app():
    knowing = {module_name(p) for p in python_files() if "server.app" in imported(p.read_text())}
    assert knowing == {"server.command.serve", "server.command.doors", "server.command.move", "server.command.several"}


def js_breaches(domain: str, source: str) -> set[str]:
    """Folders that a script imports from and may not; a path goes at most one folder up."""
    paths = re.findall(r"""\b(?:from|import)\s*\(?\s*["']([^"']+)["']""", source)
    folders = {domain if p.startswith("./") else p.removeprefix("../").split("/")[0] for p in paths}
    return folders - JS_MAY_IMPORT[domain]


@pytest.mark.parametrize("path", scripts(), ids=lambda p: f"{p.parent.name}/{p.name}")
def test_scripts_import_in_one_direction(path):
    assert js_breaches(path.parent.name, path.read_text()) == set()


def test_a_breach_of_the_script_rules_is_seen():
    assert js_breaches("web", 'import { a } from "../trial/clock.js";') == {"trial"}
    assert js_breaches("plan", 'import { a } from "../trial/trials.js";') == {"trial"}
    assert js_breaches("glass", 'const m = await import("../sync/push.js");') == {"sync"}
    assert js_breaches("sync", 'import "https://example.invalid/x.js";')


@pytest.mark.parametrize("path", [*python_files(), *scripts()], ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_are_short(path):
    assert len(path.read_text().splitlines()) <= LONGEST_MODULE


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function's body without its docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return body[-1].end_lineno - body[0].lineno + 1 if body else 0


def functions(source: str) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    return [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]


@pytest.mark.parametrize("path", python_files(), ids=module_name)
def test_functions_are_short(path):
    assert {f.name: body_lines(f) for f in functions(path.read_text()) if body_lines(f) > LONGEST_FUNCTION} == {}


def test_lines_of_a_function_are_counted_without_its_docstring():
    source = 'def f():\n    """One.\n\n    Two.\n    """\n    a = 1\n\n    return a\n'
    assert [body_lines(f) for f in functions(source)] == [3]


FUNCTION_STARTS = re.compile(
    r"(?P<indent> *)(?:(?:export |default |async )*function\b.*|(?:export )?const \w+ = .*=>.*|(?:static |async |get |set )*(?!if|for|while|switch|catch)#?\w+\(.*\)) \{$"
)


def script_functions(source: str) -> dict[int, int]:
    """{line of a function or method of a script: lines of its body}; it ends at the next `}` of the same indent."""
    lines, found = source.splitlines(), {}
    for i, line in enumerate(lines):
        if start := FUNCTION_STARTS.fullmatch(line):
            end = next(j for j in range(i + 1, len(lines)) if lines[j].startswith(start["indent"] + "}"))
            found[i + 1] = end - i - 1
    return found


@pytest.mark.parametrize("path", scripts(), ids=lambda p: f"{p.parent.name}/{p.name}")
def test_functions_of_scripts_are_short(path):
    assert {line: n for line, n in script_functions(path.read_text()).items() if n > LONGEST_FUNCTION} == {}


def test_lines_of_a_script_function_are_counted():
    source = "function a() { return 1; }\nexport async function b(x) {\n  if (x) {\n  }\n}\nclass C {\n  get d() {\n    return 1;\n  }\n}\nconst e = (x) => {\n  return x;\n};\n"
    assert script_functions(source) == {2: 2, 7: 1, 11: 1}


def test_most_functions_of_scripts_are_seen():
    seen = sum(len(script_functions(path.read_text())) for path in scripts())
    written = sum(len(re.findall(r"\bfunction \w", path.read_text())) for path in scripts())
    assert seen >= written * 0.9 > 50


def test_vendored_files_are_those_of_the_list():
    told = (ROOT / "static/vendor/SOURCES.txt").read_text()
    listed = dict(re.findall(r"^(\S+\.js)  .+\n  ([0-9a-f]{64})$", told, re.M))
    found = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (ROOT / "static/vendor").glob("*.js")}
    assert listed == found and len(found) >= 1
    others = {p.name for p in (ROOT / "static/vendor").iterdir()} - set(found) - {"SOURCES.txt"}
    assert others == {f"{name.split('.')[0]}.LICENSE.txt" for name in found}


class InlineCode(HTMLParser):
    """Collects what the security policy forbids: scripts and styles inside a page."""

    def __init__(self):
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "style" or (tag == "script" and "src" not in given and given.get("type") != "application/json"):
            self.found.append(tag)
        self.found += [name for name in given if name == "style" or re.match(r"on|hx-on", name)]
        self.found += [value for value in given.values() if value and value.strip().lower().startswith("javascript:")]


def inline_code(html: str) -> list[str]:
    """Inline code of a template. What stands under `{% if alone %}` is for a file of its own, without a policy."""
    reader = InlineCode()
    reader.feed(re.sub(r"\{%-? if alone -?%\}.*?\{%-? (?:else|endif) -?%\}", "", html, flags=re.S))
    return reader.found


@pytest.mark.parametrize("path", templates(), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_code_inside_templates(path):
    assert inline_code(path.read_text()) == []


@pytest.mark.parametrize("html", ["<script>a()</script>", "<p onclick='a()'>", "<p style='a:b'>", "<style>p{}</style>", "<a href='javascript:a()'>", "<p hx-on:click='a()'>"])
def test_code_inside_a_template_is_seen(html):
    assert len(inline_code(html)) == 1


@pytest.mark.parametrize("folder", ["templates", "static"])
def test_folders_are_named_after_domains(folder):
    found = {p.name for p in (ROOT / folder).iterdir() if p.is_dir()}
    assert len(DOMAINS) == 19
    assert DOMAINS <= found <= DOMAINS | NO_DOMAIN | PAGELESS


def test_pages_are_named_after_their_function():
    for domain in sorted(DOMAINS):
        named = {f.name for f in functions((ROOT / f"server/{domain}/routes.py").read_text())}
        pages = {p.stem for p in (ROOT / "templates" / domain).glob("*.html") if not p.name.startswith("_")}
        assert {page for page in pages if not any(name == page or name.endswith(f"_{page}") or name == f"{page}_page" for name in named)} == set()


@pytest.mark.parametrize("path", templates(), ids=lambda p: str(p.relative_to(ROOT)))
def test_templates_include_only_their_own_folder_and_web(path):
    named = re.findall(r"""\{%-?\s*(?:include|import|from|extends)\s+["']([^"']+)["']""", path.read_text())
    assert {n.split("/")[0] for n in named} <= {path.parent.name, "web", "caution", "base.html"}


def test_the_top_level_holds_what_it_may():
    listed = subprocess.run(["git", "-c", "safe.directory=*", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=True)
    tops = {name.split("/")[0] for name in listed.stdout.split("\0") if name}
    assert {top for top in tops if not top.startswith(".")} <= TOP_LEVEL
    assert {"README.md", "DEVELOPERS.md", "pyproject.toml", "server", "templates", "static", "tests", "demo"} <= tops


def test_the_licence_is_told_where_there_is_no_file_for_it():
    assert re.search(r'^license = "MIT"$', (ROOT / "pyproject.toml").read_text(), re.M)
    assert re.search(r"^## Licence\n\nMIT\b", (ROOT / "README.md").read_text(), re.M)


def test_the_lock_pins_every_requirement_without_addresses():
    lines = [line for line in (ROOT / "requirements-test.lock").read_text().splitlines() if not line.startswith("#")]
    pins = dict(line.split("==") for line in lines)
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]+==[0-9][0-9A-Za-z.]*", line) for line in lines)
    wanted = re.findall(r'^    "([A-Za-z0-9-]+)>=', (ROOT / "pyproject.toml").read_text(), re.M)
    spelled = {re.sub(r"[-_.]+", "-", name).lower() for name in pins}
    assert len(wanted) > 10 and {name.lower() for name in wanted} <= spelled
