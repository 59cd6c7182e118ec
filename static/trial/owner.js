// One tab times a trial. The lock is the browser's; whoever holds it may press, the others look on.

/** Ask for the trial's lock. Calls onChange(isOwner) now and whenever that turns; returns takeOver(). */
export function ownTrial(trialId, onChange) {
  const name = `trial:${trialId}`;
  let waiting = null;

  function hold() {
    onChange(true);
    return new Promise(() => {}); // until this page goes, or another takes over
  }

  function robbed(error) {
    if (error.name !== "AbortError") throw error;
    onChange(false);
    queue();
  }

  function queue() {
    waiting = new AbortController();
    navigator.locks.request(name, { signal: waiting.signal }, hold).catch((error) => {
      if (!waiting?.signal.aborted) robbed(error);
    });
  }

  function takeOver() {
    waiting?.abort();
    waiting = null;
    navigator.locks.request(name, { steal: true }, hold).catch(robbed);
  }

  function first(lock) {
    if (lock) return hold();
    onChange(false);
    queue();
    return null;
  }

  navigator.locks.request(name, { ifAvailable: true }, first).catch(robbed);
  return takeOver;
}
