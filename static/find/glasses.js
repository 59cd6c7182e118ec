// The glass that a piece is linked to: an analysis of its own, or of a glass like it. Chosen from the catalogue as last seen, and from own analyses made here.
import { everyGlass, matching } from "../web/glasses.js";
import { plain } from "../web/search.js";
import { at, make, oneLine } from "./parts.js";

const MOST_CHOICES = 6;

const linkNow = () => document.querySelector("#glass-part [name=link]:checked").value;

/** Show what the hidden fields and the radio say. */
export function showGlass() {
  const name = at("glass-name").value;
  at("glass-choose").hidden = linkNow() === "none" || Boolean(name);
  at("glass-chosen").hidden = linkNow() === "none" || !name;
  at("glass-chosen-name").textContent = name;
}

function choose(glass) {
  at("glass-key").value = glass?.key ?? "";
  at("glass-name").value = glass?.name ?? "";
  at("glass-name").dispatchEvent(new Event("input", { bubbles: true }));
  showGlass();
}

/** Put a piece's link into the form. */
export function fillGlass({ link, glass_key, glass_name }) {
  document.querySelector(`#glass-part [name=link][value=${link}]`).checked = true;
  at("glass-key").value = glass_key ?? "";
  at("glass-name").value = glass_name;
}

/** {link, glass_key, glass_name}; null where a link was chosen and no glass. */
export function glassNow() {
  const link = linkNow();
  if (link === "none") return { link, glass_key: null, glass_name: "" };
  return at("glass-name").value ? { link, glass_key: at("glass-key").value || null, glass_name: at("glass-name").value } : null;
}

function choice(glass, words) {
  const button = make("button", "chip", words);
  button.type = "button";
  button.addEventListener("click", () => choose(glass));
  return make("li", "", button);
}

/** Connect the part of a form that links a glass. */
export function startGlass() {
  let known = null;
  async function showChoices() {
    known ??= await everyGlass();
    const typed = oneLine(at("glass-search").value).slice(0, 120);
    const found = typed ? matching(known, typed) : [];
    const rows = found.slice(0, MOST_CHOICES).map((glass) => choice(glass, glass.family ? `${glass.name} · ${glass.family}` : glass.name));
    if (typed && !found.some((glass) => plain(glass.name) === plain(typed))) rows.push(choice({ key: "", name: typed }, `Not listed: call it “${typed}”`));
    at("glass-choices").replaceChildren(...rows);
    at("glass-count").textContent = typed ? `${found.length} found${found.length > MOST_CHOICES ? `, ${MOST_CHOICES} shown` : ""}` : "";
  }
  at("glass-search").addEventListener("input", showChoices);
  at("glass-change").addEventListener("click", () => choose(null));
  for (const radio of document.querySelectorAll("#glass-part [name=link]")) radio.addEventListener("change", showGlass);
  showGlass();
}
