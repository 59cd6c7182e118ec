// Photos of one piece: taken, made small, kept, shown.
import { record } from "../web/outbox.js";
import { shrunk } from "../web/photo.js";
import { keepDraft } from "./draft.js";
import { kept } from "./facts.js";
import { pictures } from "./finds.js";
import { at, complain, make, oneLine } from "./parts.js";
import { askTakeBack } from "./rows.js";

let drawn = "";

function takeBackButton(entry, words) {
  const button = make("button", "plain take-back no-print", "Take back");
  button.type = "button";
  button.setAttribute("aria-label", `Take back: ${words}`);
  button.addEventListener("click", () => askTakeBack(entry, `${words}. It is no longer shown; the entry itself stays in the book.`));
  return button;
}

function figure({ entry, caption, width, height, at_ms }, address) {
  const day = new Date(at_ms).toLocaleDateString("sv-SE"); // 2026-11-25
  const image = Object.assign(make("img"), { src: address, alt: caption || `Photo of ${day}`, width, height, loading: "lazy" });
  return make("figure", "", image, make("figcaption", "small", [caption, day].filter(Boolean).join(" · ")), takeBackButton(entry, image.alt));
}

/** The photos, newest first. */
export async function drawPhotos(piece) {
  const found = piece.photos.map(({ entry }) => entry).join();
  if (found === drawn) return;
  const addresses = await pictures(piece);
  at("photos").replaceChildren(...piece.photos.map((photo) => figure(photo, addresses.get(photo.entry))).reverse());
  drawn = found;
}

async function take(pieceId, form, draft) {
  const [file] = at("photo").files;
  if (!file) return;
  complain("photo-error", "");
  at("photo-said").textContent = "Making the photo small…";
  const small = await shrunk(file).catch((error) => void complain("photo-error", error.message));
  at("photo").value = "";
  at("photo-said").textContent = "";
  if (!small) return;
  const body = { ...small, caption: oneLine(form.elements.caption.value) };
  if (!(await kept("photo-error", () => record("piece.photo", pieceId, body)))) return;
  draft.drop();
  form.reset();
  at("photo-said").textContent = "The photo is kept.";
}

/** Connect the camera. */
export function startPhotos(pieceId) {
  const form = at("photo-form");
  const draft = keepDraft(form, `${pieceId}:photo`);
  form.addEventListener("submit", (event) => event.preventDefault());
  at("photo").addEventListener("change", () => take(pieceId, form, draft));
}
