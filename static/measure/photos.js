// Photos of a test: made small here, kept as entries, shown with their words.
import { onChange } from "../web/outbox.js";
import { shrunk } from "../web/photo.js";
import { at, kind, make, oneLine } from "./kind.js";
import { placeWords } from "./view.js";

function showPhotos(state) {
  const { photos } = state.measured;
  if (at("photos").childElementCount === photos.length) return;
  at("photos").replaceChildren(...photos.map(({ place, jpeg, width, height, caption }) => {
    const told = [place ? `${kind.place} ${place}` : "The whole test", caption].filter(Boolean).join(": ");
    const image = make("img", { src: `data:image/jpeg;base64,${jpeg}`, width, height, alt: told });
    return make("li", {}, make("figure", {}, image, make("figcaption", { textContent: told })));
  }));
}

function showPlaces(state) {
  const places = state.plan.places(state.measured, state.wanted);
  const select = at("photo-place");
  const held = select.value;
  select.replaceChildren(make("option", { value: "", textContent: "The whole test" }), ...places.map((place) => make("option", { value: place, textContent: placeWords(state, place) })));
  select.value = places.includes(held) ? held : "";
}

/** `keep(name, body)` stores an entry and resolves to whether it is in. */
export function watchPhotos(state, keep) {
  const show = () => {
    showPhotos(state);
    showPlaces(state);
  };
  at("photo-file").addEventListener("change", async ({ target }) => {
    const [file] = target.files;
    if (!file) return;
    at("photo-say").textContent = "Making it small…";
    const small = await shrunk(file).catch((error) => void (at("photo-say").textContent = error.message));
    const isIn = small && (await keep("photo", { place: at("photo-place").value, ...small, caption: oneLine(at("photo-caption").value) }));
    if (small) at("photo-say").textContent = isIn ? "The photo is kept." : "";
    target.value = "";
    if (isIn) at("photo-caption").value = "";
  });
  onChange(() => setTimeout(show, 50)); // once the page has read the entries anew
  show();
}
