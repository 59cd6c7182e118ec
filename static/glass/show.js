// The page of a glass: its pictures, and what was made of it.
import { fill, make } from "../web/parts.js";
import { ownGlasses } from "./data.js";
import "./heatbar.js";
import "./viscosity.js";

const MOST_COMPARED = 5;
const place = document.getElementById("made-of-it");
const { key } = place.dataset;

// A glass that the desk does not have yet has no page of its own.
function item({ key: own, name, isWaiting }) {
  return make("li", {}, make("a", { className: "onward", href: isWaiting ? `/glass/compare?g=${own}` : `/glass/${own}`, textContent: isWaiting ? `${name}, not sent yet` : name }));
}

function show(part, glasses) {
  part.hidden = !glasses.length;
  fill(part.querySelector("ul"), glasses.map(item));
}

const own = await ownGlasses().catch((error) => {
  console.warn("own glasses could not be gathered:", error.message); // the page stands without them
  return [];
});
const [made, copies] = [own.filter(({ of }) => of?.includes(key)), own.filter((one) => one.copies === key)];
place.hidden = !made.length && !copies.length;
show(document.getElementById("made-of-it-part"), made);
show(document.getElementById("copies-part"), copies);
document.getElementById("compare-made").href = `/glass/compare?${[key, ...[...made, ...copies].slice(0, MOST_COMPARED).map((one) => one.key)].map((one) => `g=${one}`).join("&")}`;
document.documentElement.dataset.ready = "glass";
