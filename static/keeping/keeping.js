import { settleAddress, startPatience } from "../web/patient.js";

settleAddress("/keeping");
startPatience();
