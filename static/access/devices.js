import { startPatience } from "../web/patient.js";

startPatience();
