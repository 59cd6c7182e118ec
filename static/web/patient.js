// For plain forms whose answer takes a while: what is going on is said, it is sent once, and moments are told as this machine tells them.
import { momentOf } from "./parts.js";

function settle(form, isBusy) {
  form.querySelector("button").disabled = isBusy;
  form.querySelector("[role=status]").textContent = isBusy ? form.dataset.said : "";
}

/** The answer to a form stands under the address of its page: to load it anew asks for the page, and sends nothing twice. */
export function settleAddress(path) {
  if (location.pathname !== path) history.replaceState(null, "", path);
}

export function startPatience() {
  const forms = document.querySelectorAll("form.takes-time");
  // A moment later: another listener may have stopped it, as while the desk is away.
  for (const form of forms) form.addEventListener("submit", (event) => setTimeout(() => event.defaultPrevented || settle(form, true)));
  window.addEventListener("pageshow", () => forms.forEach((form) => settle(form, false)));
  for (const place of document.querySelectorAll("time[data-ms]")) place.textContent = momentOf(Number(place.dataset.ms));
}
