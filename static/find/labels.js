// The sheet of labels: a button for the printer.
const button = document.querySelector("#print");
button.hidden = false;
button.addEventListener("click", () => window.print());
