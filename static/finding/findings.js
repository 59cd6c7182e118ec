// Pictures of findings as files, and the data behind them; they are drawn by the desk.
import { saveButtons, saveText } from "../web/save.js";

const name = `isokom-${location.pathname.split("/").at(-1)}`;
for (const figure of document.querySelectorAll("figure:has(svg.chart)")) {
  const row = saveButtons(() => figure.querySelector("svg.chart"), name);
  if (figure.dataset.csv) row.append(saveText("Save the data (CSV)", () => figure.dataset.csv, `${name}.csv`, "text/csv"));
  figure.append(row);
}
document.documentElement.dataset.ready = "findings";
