import { settleAddress, startPatience } from "../web/patient.js";

settleAddress("/exchange");
startPatience();
