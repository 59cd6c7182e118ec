"""The glass pages over HTTP: what they say, what they keep for the tablet, and how they fail."""

import html
import json
import re

import pytest

from server.access.rights import GUEST, may
from server.glass.catalog import glasses
from server.web.page import STATIC, asset
from server.web.shell import assets
from tests.client import Client
from tests.entries import entry, new_id
from tests.unit.glass.test_own import BODY


@pytest.fixture
def client(app):
    return Client(app)


def test_home_leads_to_the_glasses(client):
    answer = client.get("/")
    assert (answer.status_code, answer.headers["location"]) == (307, "/glass")


def test_every_catalogue_page_opens(client):
    for glass in glasses().values():
        answer = client.get(glass.link)
        assert answer.status_code == 200, glass.key
        assert glass.source.split("(")[0][:20].replace("&", "&amp;") in answer.text, glass.key


def test_page_shows_points_uncertainty_and_models(client):
    text = client.get("/glass/fre-levi-ap-mean").text
    report = glasses()["fre-levi-ap-mean"].report
    for name in ("working", "softening", "annealing", "strain"):
        assert f"<strong>{report['points'][name]['t_c']:.0f}</strong>" in text
    for word in ("Lakatos 1972", "Okhotin", "stood aside", "wt%", "mol%", "± 95 %", "measured glasses"):
        assert word in text


def test_refused_page_shows_no_number_but_why(client):
    text = client.get("/glass/chn-hik-12-w").text
    assert "No working temperatures" in text and "weathered surface" in text
    assert "viscosity-chart" not in text


def main_of(client, key: str) -> str:
    """The page's words without marks."""
    text = client.get(f"/glass/{key}").text.split("<main", 1)[1].split("</main>")[0]
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


@pytest.mark.parametrize(
    ("key", "reason"),
    [
        ("jac-lei-mean", "The analysis has no SiO₂."),
        ("modern-crystal24", "No viscosity model may answer: PbO 24.5 wt% is above every model's limit (4 wt%)."),
        ("modern-boro33", "No viscosity model may answer: B₂O₃ 13.0 wt% is above every model's limit (2 wt%)."),
        ("chn-hik-12-w", "This is an analysis of a weathered surface."),
    ],
)
def test_a_page_without_a_curve_says_so_once_and_why(client, key, reason):
    raw, words = client.get(f"/glass/{key}").text, main_of(client, key)
    assert words.count("No working temperatures") == 1 and words.count(reason) == 1
    assert raw.count('id="no-curve"') == 1 and raw.count('class="notice caution"') <= 1
    assert words.count("Your local rules") <= 1
    listed = re.search(r"<summary>What each viscosity model says</summary>(.*?)</details>", raw, re.S)
    assert bool(listed) == ("viscosity model may answer" in reason)
    if listed:
        assert listed[1].count("<li>") == listed[1].count("its limit of") == 4
    else:
        assert "the analysis itself was refused" not in words


def test_the_trade_name_of_an_expansion_is_left_out_where_it_is_too_unsure(client):
    """Rods are sold by steps of a few 10⁻⁷/K (common practice): a ± wider than that names none."""
    assert re.search(r"The trade would write about \d+ for it; that is calculated, no maker's number", main_of(client, "modern-float"))
    assert "Its nominal 104 lies" in main_of(client, "modern-soft104")
    words = main_of(client, "modern-boro33")
    assert "The trade would write" not in words and re.search(r"± \d+ is wider than the steps", words)


def test_no_two_models_share_a_name():
    from server.physics.table import models, property_models

    names = [model["name"] for model in (*models(), *property_models())]
    fits = [name for name in names if name.startswith("Open-data fit")]
    assert len(fits) == len(set(fits)) == 6 and all(" of " in name for name in fits)


def test_search_fragment(client):
    text = client.get("/frag/glasses", params={"q": "levantine ii "}).text
    assert "Bet Eli" in text and "Apollonia" not in text
    assert "<html" not in text
    assert "No glass has all of these words" in client.get("/frag/glasses", params={"q": "zzz"}).text


def test_overlong_search_is_refused_in_one_shape(client):
    answer = client.get("/frag/glasses", params={"q": "x" * 300}, headers={"HX-Request": "true"})
    assert answer.status_code == 422 and "role=\"alert\"" in answer.text


def test_own_glass_from_push_to_page_and_lists(client):
    raw = entry("glass.added", new_id(), 0, {**BODY, "name": "Ödenau <b>bead</b> (invented)"})
    assert client.post("/sync/push", json={"entries": [raw]}).json()["verdicts"][0]["verdict"] == "stored"
    page = client.get(f"/glass/own/{raw['subject']}")
    assert page.status_code == 200 and "Ödenau &lt;b&gt;bead" in page.text
    assert "Ödenau" in client.get("/glass").text
    assert client.get("/glass/names.json").json()[0]["key"] == raw["subject"]
    assert client.get("/glass/own.json").json()[0]["curve"]["points"]["softening"] > 600


def test_models_bundle_is_the_data_files(client):
    from server.physics.table import DATA

    bundle = client.get("/glass/models.json").json()
    for model in bundle["models"]:
        assert model == json.loads((DATA / "models" / f"{model['key']}.json").read_text())
    assert bundle["rules"] == json.loads((DATA / "rules.json").read_text())


@pytest.mark.parametrize("path", ["/glass/atlantis", "/glass/own/nobody", "/nowhere"])
def test_missing_pages_say_so(client, path):
    answer = client.get(path)
    assert answer.status_code == 404 and "<h1>Not here</h1>" in answer.text


def section(text: str) -> str:
    """The other properties of a glass page, without marks."""
    found = re.search(r"<summary>Other properties</summary>(.*?)</details>", text, re.S)
    return html.unescape(re.sub(r"<[^>]+>", " ", found[1])) if found else ""


def test_other_properties_of_a_natron_glass(client):
    """Density near 2.48, index near 1.517 and 70 GPa are what handbooks give a soda-lime glass; each with ± and who answered."""
    text = section(client.get("/glass/fre-levi-ap-mean").text)
    density, index, stiffness = (float(re.search(pattern, text)[1]) for pattern in (r"Density, 20\s°C\s+([\d.]+) ± ", r"index, 20\s°C\s+([\d.]+) ± ", r"modulus, 20\s°C\s+(\d+) ± "))
    assert 2.45 < density < 2.53 and 1.510 < index < 1.525 and 66 < stiffness < 74
    assert "Liquidus" in text and "None" not in text
    assert "g/cm³" in text and "mN/m" in text and "Huggins–Sun 16" in text and "Dietzel, Kucuk, Lyon" in text


def test_disagreement_and_refusal_are_told_in_plain_words(client):
    pages = [section(page) for page in client.get("/glass/pages.json").json().values()]
    assert any(re.search(r"Disagree : \S+ [\d.]+, \S+ [\d.]+: [\d.]+ \S.* apart, more than their errors", page) for page in pages)
    assert any("Lyon refused: PbO" in page for page in pages)
    assert any("Lange stood aside: PbO + B₂O₃" in page for page in pages)
    assert any("carried further" in page for page in pages)
    assert any("Makishima–Mackenzie refused: needs density" in page for page in pages)


def test_refused_analysis_has_no_other_properties(client):
    assert section(client.get("/glass/chn-hik-12-w").text) == ""


def test_own_glass_has_its_other_properties(client):
    raw = entry("glass.added", new_id(), 0, {**BODY, "name": "Invented bead"})
    client.post("/sync/push", json={"entries": [raw]})
    assert "Huggins–Sun" in section(client.get(f"/glass/own/{raw['subject']}").text)


def test_section_stays_small(client):
    """At most 1.8 kB more a page in the mean, and never 2.6: all of them travel to the tablet."""
    pages = client.get("/glass/pages.json").json().values()
    sizes = [len(found[0].encode()) for page in pages if (found := re.search(r"<details>\s*<summary>Other properties.*?</details>", page, re.S))]
    assert len(sizes) > 100
    assert sum(sizes) / len(sizes) < 1800 and max(sizes) < 2600


def test_models_page_lists_every_property_model(client):
    from server.physics.table import property_models

    text = html.unescape(client.get("/glass/models").text)
    for model in property_models():
        assert f'<h3 id="{model["key"]}">' in text and model["citation"] in text and model["bounds_from"] in text and model["evidence"] in text


def test_bundle_holds_the_very_pages(client):
    pages = client.get("/glass/pages.json").json()
    assert list(pages) == [glass.link for glass in glasses().values()]
    for path in list(pages)[::20]:
        assert pages[path] == client.get(path).text


def test_security_headers_everywhere(client):
    for path in ("/glass", "/glass/models.json", "/nowhere", "/sw.js"):
        headers = client.get(path).headers
        assert "script-src 'self'" in headers["content-security-policy"] and "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


def test_precache_stays_small(client, capsys):
    """Bytes on the wire of all that the tablet keeps: the aim is 600 kB at most."""
    script = client.get("/sw.js").text
    shell = json.loads(script.split("const SHELL = ", 1)[1].split(";\n", 1)[0])
    total = 0
    for path in [*shell["pages"], *shell["bundles"], *shell["fallbacks"]]:
        answer = client.request("GET", path, headers={"accept-encoding": "gzip"})
        assert answer.status_code == 200, path
        total += answer.num_bytes_downloaded
    with capsys.disabled():
        print(f"\nprecache: {len(assets())} files, {len(shell['pages']) + len(shell['bundled']) + len(shell['fallbacks'])} pages, {total / 1000:.0f} kB compressed")
    assert total <= 600_000


def test_all_files_of_the_shell_come_in_one_answer(client):
    """As they lie in the folder, compressed or not; a tablet that has not joined needs them too."""
    (address,) = [path for path in json.loads(client.get("/sw.js").text.split("const SHELL = ", 1)[1].split(";\n", 1)[0])["bundles"] if path.startswith("/static/")]
    told = client.get(address)
    assert told.headers["content-encoding"] == "gzip" and "immutable" in told.headers["cache-control"]
    assert client.get(address, headers={"accept-encoding": "identity"}).json() == told.json()
    files = {path: text for path, text in told.json().items()}
    for path in STATIC.rglob("*"):
        if path.suffix in (".js", ".css", ".svg") and path.name != "worker.js":
            assert files.pop(asset(str(path.relative_to(STATIC)))) == path.read_text(encoding="utf-8"), path
    assert files == {} and may(GUEST, "GET", address)


def test_much_lead_and_weathered_skins_offer_no_way_to_the_flame(client):
    """Lead fumes in a flame (usual caution; local rules come first), and a trial by a weathered analysis would mean nothing."""
    for key in ("lit-walead", "lit-cela", "chn-hik-07-w"):
        told = client.get(f"/glass/{key}").text
        assert "/bench/new?glass=" not in told and "No trial" in told
    assert "/bench/new?glass=" in client.get("/glass/modern-float").text


def test_an_analysis_taken_on_trust_is_not_said_to_lie_outside_the_models():
    from server.glass import view
    from server.physics.report import estimate_one
    from tests import glasses as g

    low = estimate_one(g.NATRON * 93 / g.NATRON.sum())
    assert low["status"] == "extrapolated" and "if the analysis can be trusted" in view.lead(low)
    assert "no model was made" not in view.lead(low)
