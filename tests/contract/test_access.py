"""Who is let in over the network, as what, and who is turned away. The desk's own door needs no pass."""

import re
import threading
import uuid

import pytest
from sqlalchemy import text

from server.access import codes, passes
from server.access.rights import needed
from server.web.door import LAN, Door
from tests.client import Client
from tests.entries import whole_trial
from tests.routes import every_route

HERE = {"Origin": "http://127.0.0.1"}
NOW = 1_790_000_000_000


class Device:
    """A device on the network: comes by the tablets' door, keeps its cookie."""

    def __init__(self, app):
        self.client, self.cookie = Client(Door(app, LAN)), ""

    def ask(self, method: str, path: str, **options):
        headers = {**({} if method == "GET" else HERE), **({"Cookie": self.cookie} if self.cookie else {}), **options.pop("headers", {})}
        answer = self.client.request(method, path, headers=headers, **options)
        if kept := answer.headers.get("set-cookie"):
            self.cookie = kept.split(";")[0]
        return answer

    def join(self, code: str, **more):
        return self.ask("POST", "/join", headers={"Accept": "application/json"}, json={"code": code, "name": "Demo tablet", **more})


@pytest.fixture
def device(app):
    return lambda: Device(app)


@pytest.fixture
def code(app):
    """Call with a role for a code, as the desk shows it."""

    def shown(role: str = "bench") -> str:
        text = Client(app).post("/devices/invite", content=f"role={role}", headers={"content-type": "application/x-www-form-urlencoded"}).text
        return re.search(r'class="join-code">([^<]+)<', text)[1]

    return shown


def test_at_the_desk_nothing_is_asked(app):
    client = Client(app)
    assert client.get("/devices").status_code == client.get("/results").status_code == 200


def test_a_stranger_is_told_how_to_join_and_sees_nothing(device):
    stranger = device()
    for path in ("/results", "/glass", "/bench", "/finds", "/", "/devices"):
        answer = stranger.ask("GET", path, headers={"Accept": "text/html"})
        assert answer.status_code == 401 and "does not know this device yet" in answer.text
    answer = stranger.ask("GET", "/finds/log.json")
    assert (answer.status_code, answer.json()["code"]) == (401, "no_pass")
    answer = stranger.ask("POST", "/sync/push", json={"entries": whole_trial()})
    assert (answer.status_code, answer.json()["code"]) == (401, "no_pass")
    assert {stranger.ask("GET", path).status_code for path in ("/join", "/health", "/sw.js", "/manifest.webmanifest", "/offline")} == {200}


def test_a_code_lets_one_device_in_once(device, code):
    shown, tablet = code(), device()
    joined = tablet.join(shown.lower().replace(" ", "-"))
    assert joined.status_code == 200 and joined.json() == {"name": "Demo tablet", "role": "bench"}
    line = joined.headers["set-cookie"]
    assert line.startswith("__Host-isokom-pass=") and {"Secure", "HttpOnly", "SameSite=Strict", "Path=/"} <= set(line.split("; ")) and "Domain" not in line
    assert tablet.ask("POST", "/sync/push", json={"entries": whole_trial()}).json()["verdicts"][0]["verdict"] == "stored"
    replayed = device().join(shown)
    assert (replayed.status_code, replayed.json()["code"]) == (403, "wrong_code")
    assert "set-cookie" not in replayed.headers


def test_look_alikes_are_forgiven():
    """Crockford's base 32: O is read as 0, I and L as 1."""
    assert codes.as_meant("o1 il-lo") == "011110"
    assert all(codes.as_meant(codes.grouped(one).lower()) == one for one in (codes.new_code() for _ in range(50)))


def test_an_old_code_is_no_good(app, device):
    with app.state.store.write() as session:
        shown = passes.invite(session, "bench", NOW, for_ms=1)
    assert device().join(shown).status_code == 403


def test_of_many_who_come_at_once_with_one_code_one_is_let_in(store):
    with store.write() as session:
        shown = passes.invite(session, "bench", NOW)
    found, gate = [], threading.Barrier(6)

    def come():
        gate.wait()
        with store.write() as session:
            found.append(passes.let_in(session, shown, "Demo", "device", "", NOW))

    threads = [threading.Thread(target=come) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(one is not None for one in found) == 1
    with store.read() as session:
        assert len(passes.every(session)) == 1


def test_after_ten_wrong_codes_every_open_one_is_void_for_good(app, device, code):
    shown, guesser = code(), device()
    assert [guesser.join("0" * 10).status_code for _ in range(12)] == [403] * 10 + [429] * 2
    assert device().join(shown).status_code == 429
    with app.state.store.write() as session:
        session.exec(passes.update(passes.Miss).values(at_ms=0))
    assert device().join(shown).status_code == 403
    assert device().join(code()).status_code == 200


def test_a_device_that_is_turned_away_is_told_so_and_can_come_back(app, device, code):
    tablet = device()
    tablet.join(code())
    with app.state.store.read() as session:
        (one,) = passes.every(session)
    assert Client(app).post(f"/devices/{one.id}/revoke").status_code == 200
    answer = tablet.ask("POST", "/sync/push", json={"entries": []})
    assert (answer.status_code, answer.json()["code"]) == (401, "pass_revoked")
    assert "turned this device away" in tablet.ask("GET", "/results", headers={"Accept": "text/html"}).text
    tablet.join(code())
    assert tablet.ask("POST", "/sync/push", json={"entries": []}).status_code == 200


def test_who_joins_again_has_one_pass(app, device, code):
    tablet = device()
    tablet.join(code())
    before = tablet.cookie
    tablet.join(code("desk"))
    with app.state.store.read() as session:
        assert sorted((one.role, one.revoked_ms is None) for one in passes.every(session)) == [("bench", False), ("desk", True)]
    found = device()
    found.cookie = before
    assert found.ask("GET", "/results").status_code == 401
    assert tablet.ask("GET", "/devices").status_code == 200


def test_a_device_sees_which_one_it_is_and_cannot_turn_itself_away_by_a_slip(app, device, code):
    tablet, other = device(), device()
    other.join(code(), name="Demo tablet")
    tablet.join(code("desk"))
    with app.state.store.read() as session:
        own, away = (next(one.id for one in passes.every(session) if one.role == role) for role in ("desk", "bench"))
    page = tablet.ask("GET", "/devices").text
    assert page.count(">this one<") == 1 and f"/devices/{own}/revoke" not in page and f"/devices/{away}/revoke" in page
    refused = tablet.ask("POST", f"/devices/{own}/revoke")
    assert refused.status_code == 422 and "in your hand" in refused.text
    assert tablet.ask("POST", f"/devices/{away}/revoke").status_code == 200
    assert ">this one<" not in Client(app).get("/devices").text


@pytest.mark.parametrize("cookie", ["__Host-isokom-pass=", "__Host-isokom-pass=x", f"__Host-isokom-pass={'A' * 43}", "isokom-pass=x", "__Host-isokom-pass=' OR 1=1 --"])
def test_a_forged_pass_is_none(device, cookie):
    forger = device()
    forger.cookie = cookie
    assert forger.ask("GET", "/results").status_code == 401


def test_the_device_that_an_entry_names_is_no_authority(device, code):
    """Whoever joined may hand on what another device made, and nobody comes in by naming one."""
    tablet = device()
    tablet.join(code())
    entries = [{**e, "device": str(uuid.uuid4())} for e in whole_trial()]
    assert {v["verdict"] for v in tablet.ask("POST", "/sync/push", json={"entries": entries}).json()["verdicts"]} == {"stored"}
    assert device().ask("POST", "/sync/push", json={"entries": entries}).status_code == 401


def test_another_machine_gets_a_token_and_no_cookie(device, code):
    machine = device()
    joined = machine.join(code(), kind="server")
    assert "set-cookie" not in joined.headers
    bearer = {"Authorization": f"Bearer {joined.json()['token']}"}
    assert machine.client.get("/sync/feed.json", headers=bearer).status_code == 200
    assert machine.client.post("/sync/push", json={"entries": []}, headers=bearer).status_code == 200
    assert machine.client.get("/devices", headers=bearer).status_code == 403


@pytest.mark.parametrize("headers", [{"Origin": "http://other.example"}, {"Origin": "null"}, {"Sec-Fetch-Site": "cross-site", "Origin": ""}, {"Origin": ""}])
def test_with_a_cookie_only_own_pages_write(device, code, headers):
    """Also a request that does not say where it comes from is turned away."""
    tablet = device()
    tablet.join(code())
    assert tablet.ask("POST", "/sync/push", json={"entries": []}, headers=headers).status_code == 403


@pytest.mark.parametrize(("host", "status"), [("127.0.0.1:8719", 200), ("[::1]:8719", 200), ("192.168.1.5", 200), ("localhost", 200), ("LOCALHOST.:1", 200), ("evil.example", 421), ("evil.example:8719", 421), ("127.0.0.1.evil.example", 421), ("", 421), ("localhost.evil", 421)])
def test_only_own_names_are_answered(app, host, status):
    """DNS rebinding needs a name; a number cannot be made to point elsewhere."""
    assert Client(app).get("/health", headers={"Host": host}).status_code == status


def test_nothing_secret_is_stored_or_logged(app, device, code, caplog):
    shown, tablet = code(), device()
    with caplog.at_level("DEBUG"):
        tablet.join(shown)
        tablet.ask("GET", "/results")
        device().join("WRONGCODE1")
    token = tablet.cookie.split("=")[1]
    with app.state.store.read() as session:
        written = str([session.execute(text(f"SELECT * FROM {table}")).all() for table in ("device_pass", "invite", "join_miss")])
    if app.state.store.path:
        written += "".join(p.read_bytes().decode("latin-1") for p in app.state.store.path.parent.glob(f"{app.state.store.path.name}*"))
    assert codes.seal(token) in written
    for secret in (token, shown, shown.replace(" ", "")):
        assert secret not in written and secret not in caplog.text


def test_every_route_has_a_least_role_and_what_changes_things_is_never_a_guest_s(app):
    """A route that nobody thought of is the desk's alone when it changes something."""
    walked = [(method, re.sub(r"\{[^}]+\}", "x", path)) for method, path in every_route(app)]
    writes = [(method, path) for method, path in walked if method not in ("GET", "HEAD") and path != "/join"]
    assert len(walked) > 80 and len(writes) > 8
    assert {(method, path): needed(method, path) for method, path in writes if needed(method, path) not in ("desk", "bench")} == {}
    assert needed("POST", "/whatever/comes") == needed("DELETE", "/glass") == "desk"
    assert needed("GET", "/whatever/comes") == "bench"
    assert needed("GET", "/finds/log.json") == needed("GET", "/results/package.zip") == needed("GET", "/sync/feed.json") == "bench"
    assert needed("GET", "/keeping/backup/x") == needed("GET", "/devices") == "desk"


@pytest.mark.parametrize("path", ["/static/{v}/../../server/app.py", "/static/{v}/..%2f..%2fserver%2fapp.py", "/static/{v}/%2e%2e/%2e%2e/pyproject.toml", "/static/{v}/....//....//pyproject.toml", "/static/{v}//etc/passwd", "/static/{v}/..\\..\\pyproject.toml"])
def test_no_way_leads_out_of_the_static_files(app, path):
    from server.web.page import version

    answer = Client(app).get(path.format(v=version()))
    assert answer.status_code == 404 and "import" not in answer.text[:2000].split("<")[0]
