// Changed margins: the address follows them; a refusal is said beside them, and so is that ranking needs the desk.
const form = document.querySelector("#margins");
const place = document.querySelector("#margin-error");

function say(words) {
  place.textContent = words;
  place.hidden = !words;
  if (words) form.querySelector("details").open = true;
}

function refused(event) {
  event.stopPropagation();
  const { response, text } = event.detail.ctx;
  const told = new DOMParser().parseFromString(text ?? "", "text/html").querySelector("[role=alert]");
  say(response.status === 422 && told ? told.textContent : "Ranking again needs the desk. What stands here is from before.");
}

form.addEventListener("htmx:response:error", refused);
form.addEventListener("htmx:error", () => say("Ranking again needs the desk. What stands here is from before."));
document.addEventListener("htmx:after:swap", (event) => {
  if (event.detail.ctx.response.status >= 400) return; // told so far too, though nothing was swapped
  say("");
  history.replaceState(null, "", `/stand-ins?${new URLSearchParams(new FormData(form))}`); // a reload keeps the margins
});
