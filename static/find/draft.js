// What is being typed into a form survives a reload: it is kept on this device until the form is saved or left.
const isTick = (field) => field.type === "radio" || field.type === "checkbox";
const nameOf = (field) => (isTick(field) ? `${field.name}=${field.value}` : field.name);

/**
 * Keep a form's fields under a name. Returns {isKept: something was being typed before, drop(): forget it, keep(): write it down now}.
 * Fields without a name and files are left out. onFill() is called after an earlier state was put back.
 */
export function keepDraft(form, name, onFill = () => {}) {
  const place = `isokom-find-draft:${name}`;
  const fields = () => [...form.elements].filter((field) => field.name && field.type !== "file");

  function keep() {
    const state = Object.fromEntries(fields().map((field) => [nameOf(field), isTick(field) ? field.checked : field.value]));
    try {
      localStorage.setItem(place, JSON.stringify(state));
    } catch (error) {
      console.warn("what is being typed cannot be kept over a reload:", error.message);
    }
  }

  const drop = () => localStorage.removeItem(place);
  const kept = JSON.parse(localStorage.getItem(place) ?? "null");
  if (kept) {
    for (const field of fields().filter((one) => nameOf(one) in kept)) field[isTick(field) ? "checked" : "value"] = kept[nameOf(field)];
    onFill();
  }
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
  return { isKept: Boolean(kept), drop, keep };
}

/** A form behind a button: open(), close(); it stands open at once when something was being typed into it before. */
export function folded(form, button, name, { fill = () => {}, onFill = () => {} } = {}) {
  const draft = keepDraft(form, name, onFill);
  const show = (isOpen) => {
    form.hidden = !isOpen;
    button.hidden = isOpen;
  };
  function open() {
    fill();
    onFill();
    draft.keep();
    show(true);
    form.querySelector("input:not([type=hidden]), select, textarea").focus();
  }
  function close() {
    draft.drop();
    form.reset();
    show(false);
  }
  button.addEventListener("click", open);
  form.querySelector("[data-leave]").addEventListener("click", close);
  show(draft.isKept);
  return { open, close, drop: draft.drop };
}
