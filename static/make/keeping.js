// What the pages of making share: what was typed is judged and the answer follows, and what was made is kept as glasses, on this device first.
import { NotKept, newId, record } from "../web/outbox.js";
import { at, complain, make } from "../web/parts.js";
import { CannotMake } from "./addition.js";
import { labelNodes, printLabels } from "./labels.js";

/** The answer of reckon() (null where too little is chosen), or null with its reason beside the form; `nothing` is what stands in the answer's place until there is one. */
export function judged(reckon, nothing) {
  let found = null;
  complain("make-error", "");
  try {
    found = reckon();
  } catch (error) {
    if (!(error instanceof CannotMake)) throw error;
    complain("make-error", error.message);
  }
  if (!found) at("answer").replaceChildren(make("p", { className: "lead", textContent: at("make-error").hidden ? nothing : "No answer yet: see the message beside the form." }));
  return found;
}

/** The answer follows what is typed. Not at "change": a press on something in the answer leaves the field, and would lose what it came down on. */
export function follow(form, refresh) {
  form.addEventListener("input", (event) => event.target.type !== "search" && refresh());
  form.addEventListener("submit", (event) => event.preventDefault());
}

/** A glass of a form may be taken out again, while more than `least` stand there; gone(): what follows. */
export function mayGo(part, least, gone) {
  part.querySelector("[data-part=out]").addEventListener("click", () => {
    part.remove();
    showOuts(least);
    gone();
  });
  showOuts(least);
}

function showOuts(least) {
  const outs = [...document.querySelectorAll("#parts [data-part=out]")];
  for (const out of outs) out.hidden = outs.length <= least;
}

/** The body of a made glass: `texts` name, family, source and surface; wt and sd {oxide: wt%}, sd where it is known; made as server/glass/own.py MadeOf, or none. */
export function glassBody({ name, family, source, surface = "not stated" }, wt, sd, made) {
  const amounts = Object.entries(wt).filter(([, share]) => share > 0).map(([oxide, share]) => ({ name: oxide, text: share.toFixed(4), unit: "wt", ...(sd ? { sd: Number(sd[oxide].toPrecision(3)) } : {}) }));
  return {
    name: name.slice(0, 120), family, period: "", region: "", source: source.slice(0, 400), note: "Composition reckoned from what was weighed, not analysed.", surface, replaces: "", amounts, ...(made ? { made } : {}),
  };
}

/** The glass that a recipe names. */
export const partOf = (glass, mass_g) => ({ key: glass.key, name: glass.name.slice(0, 120), mass_g });

// Every glass of a run that waits; "", or why the store did not take one.
async function store(run) {
  try {
    for (let one; (one = run.waiting[0]); run.waiting.shift()) {
      await record("glass.added", one.id, one.body);
      run.kept.push(one);
    }
    return "";
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    return error.message;
  }
}

/** What may be kept of one answer: each body once, however often it is asked for, and after a reload too. */
export class Keeping {
  constructor(draft) {
    this.draft = draft;
  }

  /** For a new answer, told by what was weighed, however it was typed; "" for none. What is being stored of the one before goes on by itself. */
  begin(answer) {
    this.draft.save();
    this.run = { answer, waiting: null, kept: this.draft.kept(answer) };
    at("kept").hidden = at("labels").hidden = true;
    at("keep").disabled = this.run.kept.length > 0;
    complain("keep-error", "");
    if (this.run.kept.length) this.show();
  }

  /** Store them ([{body, warning}]: the glass, and what its label warns of), one after another; those that the store took before it refused one stay, and are not stored again. */
  async keep(glasses) {
    const { run } = this;
    run.waiting ??= glasses.map((one) => ({ id: newId(), ...one }));
    at("keep").disabled = true;
    const refusal = await store(run);
    if (!refusal) this.draft.keep(run.answer, run.kept);
    if (run !== this.run) return; // another answer stands there by now
    at("keep").disabled = !refusal;
    complain("keep-error", refusal);
    if (!refusal) this.show();
  }

  show() {
    const isOne = this.run.kept.length === 1;
    const words = isOne ? "It is kept on this device and goes to the desk by itself." : `All ${this.run.kept.length} are kept on this device and go to the desk by themselves.`;
    const print = make("button", { type: "button", textContent: isOne ? "Print a label" : "Print labels", onclick: printLabels });
    const compare = make("a", { className: "button quiet", href: `/glass/compare?${this.run.kept.slice(0, 6).map(({ id }) => `g=own/${id}`).join("&")}`, textContent: isOne ? "Compare it" : "Compare them" });
    at("kept").replaceChildren(make("p", { textContent: words }), make("p", { className: "row" }, print, compare));
    at("labels").replaceChildren(...this.run.kept.map(({ id, body, warning }) => labelNodes(id, body, warning)));
    at("kept").hidden = at("labels").hidden = false;
  }
}
