// The desk's picture of a result as a file, and the data behind it. The page is drawn again whenever something arrives.
import { saveButtons, saveText } from "../web/save.js";

function dress() {
  for (const figure of document.querySelectorAll("#measured figure[data-csv]:not(:has(.save))")) {
    const row = saveButtons(() => figure.querySelector("svg"), "isokom-measured");
    row.append(saveText("Save the data (CSV)", () => figure.dataset.csv, "isokom-measured.csv", "text/csv"));
    figure.append(row);
  }
}

document.body.addEventListener("htmx:afterSwap", dress);
dress();
