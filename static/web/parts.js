// Small things that every page needs: elements, what was typed, a complaint in its place, work that is joined when calls overlap.
export const at = (id) => document.getElementById(id);

/** A new element with properties and children. */
export function make(tag, properties = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}

const filled = new WeakMap();

/** The children of a place, put there anew only where they say something else: a link that a finger is on stays. */
export function fill(place, nodes) {
  const told = nodes.map((node) => node.outerHTML).join("");
  if (filled.get(place) === told) return;
  filled.set(place, told);
  place.replaceChildren(...nodes);
}

/** Typed text as one line without control characters, nor any that turn the reading direction of what follows. */
export const oneLine = (text) => text.replace(/[\u0000-\u001f\u007f-\u009f]+/g, " ").replace(/[\u202a-\u202e\u2066-\u2069]/g, "").trim();

/** A number as people write it, with comma or point; null when it is none. */
export function numberFrom(typed) {
  const text = typed.trim().replace(",", ".").replace("−", "-");
  return /^-?\d*\.?\d+$|^-?\d+\.$/.test(text) ? Number(text) : null;
}

/** A sentence in its place, or nothing; returns whether there is one. */
export function complain(id, sentence) {
  at(id).hidden = !sentence;
  at(id).textContent = sentence;
  return Boolean(sentence);
}

/** Day and minute by this tablet's clock: "2026-11-25 14:05"; "" for none. */
export function momentOf(ms) {
  if (ms === null || ms === undefined) return "";
  const text = new Date(ms - new Date(ms).getTimezoneOffset() * 60_000).toISOString();
  return `${text.slice(0, 10)} ${text.slice(11, 16)}`;
}

/** work() as a function whose overlapping calls are joined: it runs once more at the end instead of twice at once. */
export function joined(work) {
  let isBusy = false;
  let isAgain = false;
  return async () => {
    isAgain = isBusy;
    if (isBusy) return;
    isBusy = true;
    try {
      do {
        isAgain = false;
        await work();
      } while (isAgain);
    } finally {
      isBusy = false;
    }
  };
}
