"""The tablet's ledger and the desk's are one: the same entries give the same finds, and the same sentences, in a real browser and in Python."""

import re
from dataclasses import asdict
from random import Random

from server.find.entry import CODE
from server.find.ledger import finds_from, may_use
from server.find.sentences import grams
from tests import finds as f

TODAY = "2026-11-25"
IN_PAGE = """async ([histories, asked, masses]) => {
  const base = document.querySelector("script[src$='find/index.js']").src.replace("index.js", "");
  const { findsFrom, againstUse } = await import(base + "ledger.js");
  const { grams } = await import(base + "sentences.js");
  const found = histories.map(findsFrom);
  const said = asked.map(([history, piece, mass_g, test, today, planned]) => {
    const { finds, pieces } = found[history];
    const find = finds.find((one) => one.id === pieces[piece].facts.find) ?? null;
    return againstUse(find, pieces, pieces[piece], mass_g, test, today, ...(planned ? [{ of: (id) => planned[id] ?? 0 }] : []));
  });
  return { found, said, grams: masses.map(grams) };
}"""


def questions(found: list) -> list[list]:
    """[history, piece, mass, test, day, planned]: every piece is asked about, with and without a mass, also just at and above what is left, and with and without plans."""
    dice, asked = Random(20261125), []
    for i, one in enumerate(found):
        for j, piece in enumerate(one.pieces):
            left_g = piece.left_g or 0.0
            for mass_g in (None, left_g, left_g + 1e-6, round(dice.uniform(0, 9), 4)):
                planned = {other.id: dice.choice([0.5, left_g, 1e-6, round(dice.uniform(0, 4), 4)]) for other in one.pieces if dice.random() < 0.5}
                asked.append([i, j, mass_g, dice.choice(f.TESTS), dice.choice([TODAY, "2026-01-10", "2026-01-11"]), dice.choice([None, planned])])
    return asked


def said_of(found: list, i: int, j: int, mass_g: float | None, test: str, today: str, planned: dict[str, float] | None) -> list[str]:
    pieces = found[i].pieces
    find = next((one for one in found[i].finds if one.id == pieces[j].facts["find"]), None)
    return may_use(find, pieces, pieces[j], mass_g, test, today, planned or {})


def test_page_and_desk_keep_the_same_ledger(live_server, page):
    page.goto(f"{live_server.url}/finds")
    histories = [f.history(seed) for seed in range(300)]
    histories[:10] = [[e for e in one if e["kind"] != "find.opened"] for one in histories[:10]]  # finds that are not known here
    found = [finds_from(history) for history in histories]
    asked = questions(found)
    dice = Random(7)
    masses = [dice.uniform(-3, 300) * 10 ** -dice.randrange(5) for _ in range(2000)]
    told = page.evaluate(IN_PAGE, [histories, asked, masses])
    for one, other in zip(found, told["found"], strict=True):
        assert asdict(one) == other
    assert [said_of(found, *question) for question in asked] == told["said"]
    assert [grams(mass_g) for mass_g in masses] == told["grams"]
    sentences = {sentence.split(" ")[0] + sentence[-12:] for said in told["said"] for sentence in said}
    assert sum("are planned in an open session" in sentence for said in told["said"] for sentence in said) > 50
    assert {matter for one in found for some in (*one.finds, *one.pieces) for matter in some.unsettled} == {"facts", "consent"}
    assert len(sentences) > 8 and [] in told["said"] and any(find["over_g"] > 0 for one in told["found"] for find in one["finds"])


def test_codes_fit_the_desk_and_are_found_as_people_type_them(live_server, page):
    page.goto(f"{live_server.url}/finds")
    codes, found = page.evaluate("""async () => {
      const base = document.querySelector("script[src$='find/index.js']").src.replace("index.js", "");
      const { newCode, piecesByCode } = await import(base + "finds.js");
      const id = "018f0000-0000-7000-8000-0000000000e1";
      const pieces = [{ id, facts: { code: "KF7M4" } }, { id: "other", facts: { code: "TW3CA" } }];
      const typed = ["kf7m4", " KF7-M4 ", "kf7 m4", `http://127.0.0.1:1/finds/piece?p=${id}`, "KF7M", "", "-"];
      return [Array.from({ length: 3000 }, () => newCode(pieces)), typed.map((one) => piecesByCode(pieces, one).map((piece) => piece.id === id))];
    }""")
    assert found == [[True], [True], [True], [True], [], [], []]
    assert all(re.match(CODE, code) for code in codes) and len(set(codes)) > 2990
