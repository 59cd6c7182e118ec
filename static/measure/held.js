// What is not said yet: the number being typed, and a change that waits for its reason. Both lie beside the store, where a reload finds them.

/** One thing held for a test: get() gives it or null, set() changes it, null lets it go. */
export function held(name, testId) {
  const place = `isokom-measure-${name}:${testId}`;
  let now = JSON.parse(localStorage.getItem(place) ?? "null");
  return {
    get: () => now,
    set(next) {
      now = next;
      try {
        if (next === null) localStorage.removeItem(place);
        else localStorage.setItem(place, JSON.stringify(next));
      } catch (error) {
        console.warn("nothing is held beside the store:", error.name); // it stays on the screen
      }
    },
  };
}
