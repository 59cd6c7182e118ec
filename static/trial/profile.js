// The profile picture as a file; the picture itself is drawn by the desk.
import { saveButtons } from "../web/save.js";

const picture = document.querySelector("svg.profile");
if (picture) picture.closest("figure").append(saveButtons(() => picture, "isokom-profile"));
