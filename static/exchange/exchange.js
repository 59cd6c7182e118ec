// What takes a while says so and is sent once; times are told as this machine tells them.
for (const form of document.querySelectorAll("form.takes-time")) {
  form.addEventListener("submit", () => {
    form.querySelector("button").disabled = true;
    form.querySelector("[role=status]").textContent = form.dataset.said;
  });
}

for (const place of document.querySelectorAll("time[data-ms]")) {
  const moment = new Date(Number(place.dataset.ms));
  place.dateTime = moment.toISOString();
  place.textContent = moment.toLocaleString(undefined, { dateStyle: "medium", timeStyle: "short" });
}

window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form.takes-time")) {
    form.querySelector("button").disabled = false;
    form.querySelector("[role=status]").textContent = "";
  }
});
