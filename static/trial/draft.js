// What is to be heated, between the form and the first press. It becomes part of trial.started when the clock starts.
const place = (trialId) => `isokom-draft:${trialId}`;

export function saveDraft(trialId, setup) {
  localStorage.setItem(place(trialId), JSON.stringify(setup));
}

export function draftOf(trialId) {
  return JSON.parse(localStorage.getItem(place(trialId)) ?? "null");
}

export function dropDraft(trialId) {
  localStorage.removeItem(place(trialId));
}

/** The setup inside an earlier trial.started body. */
export function setupOf({ press: _press, ...setup }) {
  return setup;
}
