// The picture of findings as a file; it is drawn by the desk.
import { saveButtons } from "../web/save.js";

for (const picture of document.querySelectorAll("figure svg.chart")) picture.closest("figure").append(saveButtons(() => picture, `isokom-${location.pathname.split("/").at(-1)}`));
document.documentElement.dataset.ready = "findings";
