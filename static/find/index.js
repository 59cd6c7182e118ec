// All finds, a new one, and the way to a piece by the code on its label.
import { newId, record } from "../web/outbox.js";
import { folded } from "./draft.js";
import { factsNow, fillFacts, kept } from "./facts.js";
import { allFinds, nameOfFind, piecesByCode, today } from "./finds.js";
import { at, complain, consentWord, dueWords, isOverdue, leftWords, linkTo, make, massBar } from "./parts.js";
import { canScan, scan } from "./scan.js";
import { grams } from "./sentences.js";
import { watch } from "./watch.js";

let stopping = null;

function findRow(find, pieces) {
  const count = pieces.filter((piece) => piece.facts.find === find.id).length;
  const due = make("span", isOverdue(find, today()) ? "small late" : "small", dueWords(find, today()));
  const words = [leftWords(find), `${count} ${count === 1 ? "piece" : "pieces"}`].join(" · ");
  const consent = make("span", "small consent-word", `Consent: ${consentWord(find)}`);
  const over = find.over_g > 0 ? [make("span", "small late", "more was taken than there was")] : [];
  return make("li", "", linkTo(`/finds/find?f=${find.id}`, "", make("span", "name", nameOfFind(find.facts)), massBar(find.left_g, find.start_g), make("span", "small", words), consent, due, ...over));
}

function leadWords(finds) {
  const late = finds.filter((find) => isOverdue(find, today())).length;
  const left_g = finds.reduce((sum, find) => sum + (find.left_g ?? 0), 0);
  const overdue = late ? ` ${late === 1 ? "One loan is" : `${late} loans are`} overdue.` : "";
  return `${finds.length} ${finds.length === 1 ? "find" : "finds"}, ${grams(left_g)} g left.${overdue}`;
}

function draw({ finds, pieces }) {
  at("empty").hidden = finds.length > 0;
  at("table-part").hidden = finds.length === 0;
  at("code-form").hidden = pieces.length === 0;
  if (finds.length) at("lead").textContent = leadWords(finds);
  at("list").replaceChildren(...finds.map((find) => findRow(find, pieces)));
}

async function open(typed) {
  const { finds, pieces } = await allFinds();
  const found = piecesByCode(pieces, typed);
  if (found.length === 1) {
    location.assign(`/finds/piece?p=${found[0].id}`);
    return;
  }
  complain("code-error", found.length ? "Two tablets have drawn the same code. Which piece is it?" : "No piece with this code is known on this tablet. Compare the letters; there is no 0, 1, O or I among them.");
  const names = new Map(finds.map((find) => [find.id, nameOfFind(find.facts)]));
  at("code-choices").replaceChildren(...found.map((piece) => make("li", "", linkTo(`/finds/piece?p=${piece.id}`, "", make("span", "name", piece.facts.label), make("span", "small", ` ${names.get(piece.facts.find) ?? ""}`)))));
}

async function openTyped(event) {
  event.preventDefault();
  if (at("code").value.trim()) await open(at("code").value);
  else complain("code-error", "Type the four or five letters and figures on the label.");
}

async function startScan() {
  complain("code-error", "");
  stopping = new AbortController();
  at("camera").hidden = false;
  try {
    const text = await scan(at("video"), stopping.signal);
    if (text) await open(text);
  } catch (error) {
    complain("code-error", "The camera cannot be used here. Type the code instead.");
    console.warn("no camera:", error.message);
  } finally {
    at("camera").hidden = true;
  }
}

async function keepFind(form, event) {
  event.preventDefault();
  const facts = factsNow(form.element);
  const id = newId();
  if (!facts || !(await kept("facts-error", () => record("find.opened", id, facts)))) return;
  form.close();
  location.assign(`/finds/find?f=${id}`);
}

const form = { element: at("find-form"), ...folded(at("find-form"), at("new-find"), "new", { fill: () => fillFacts(at("find-form"), null) }) };
form.element.addEventListener("submit", (event) => keepFind(form, event));
at("code-form").addEventListener("submit", openTyped);
at("scan").addEventListener("click", startScan);
at("scan-stop").addEventListener("click", () => stopping?.abort());
at("scan").hidden = !(await canScan());
await watch(draw);
