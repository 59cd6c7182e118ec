// One address, two pages: without a number the form of a new test, with it the test itself.
import { showSetup } from "./setup.js";
import { showRun } from "./run.js";

/** Start the page of a test; `plan` says what is special to it. */
export function start(plan) {
  const testId = new URLSearchParams(location.search).get("m");
  return testId ? showRun(testId, plan) : showSetup();
}
