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

/** The same glass once more, outside any session. */
export function onceMore({ session: _session, run: _run, code: _code, out_of_kiln: _stamp, checked: _checked, ...setup }) {
  return { ...setup, ...(setup.piece ? { consent: null } : {}) };
}
