// Bringing in a large package takes a while: say so, and send it once.
const form = document.getElementById("bring");
const button = document.getElementById("bring-button");
const said = document.getElementById("bring-said");

form.addEventListener("submit", () => {
  button.disabled = true;
  said.textContent = "Bringing it in. Leave this page open.";
});

window.addEventListener("pageshow", () => {
  button.disabled = false;
  said.textContent = "";
});
