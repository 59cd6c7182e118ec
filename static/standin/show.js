// Changed margins: what the desk refused is said beside the margins, and so is that ranking needs the desk.
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
document.querySelector("#ranking").addEventListener("htmx:after:swap", () => say(""));
document.addEventListener("htmx:after:swap", () => say(""));
