import { settleAddress, startPatience } from "../web/patient.js";

settleAddress("/devices");
startPatience();
