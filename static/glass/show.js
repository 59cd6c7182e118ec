import "./heatbar.js";
import "./viscosity.js";
