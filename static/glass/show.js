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

const made = (await ownGlasses()).filter(({ of }) => of?.includes(key));
place.hidden = !made.length;
fill(place.querySelector("ul"), made.map(item));
place.querySelector("p a").href = `/glass/compare?${[key, ...made.slice(0, MOST_COMPARED).map((one) => one.key)].map((one) => `g=${one}`).join("&")}`;
document.documentElement.dataset.ready = "glass";
