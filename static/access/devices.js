// Times as this machine tells them.
import { momentOf } from "../web/parts.js";

for (const place of document.querySelectorAll("time[data-ms]")) place.textContent = momentOf(Number(place.dataset.ms));
