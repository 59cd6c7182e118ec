// Read one analysis out of a pasted table row or a list of pairs. What cannot be split safely is refused, not guessed.
export const LONGEST = 20_000;
const SUBSCRIPTS = "₀₁₂₃₄₅₆₇₈₉";
const UNIT = /\(?\s*\b(wt|mol|mass|weight)?\s*\.?\s*(%|ppm|mg\/kg|µg\/g|ug\/g)\s*\)?$/i;
const ABSENT = "b\\.d\\.l\\.|b\\.d\\.|bdl|bd|n\\.d\\.|n\\.n\\.|n\\.a\\.|nd|tr\\.?|traces?|<\\s*(?:LOD|LOQ|DL)";
const FIGURE = "\\d[\\d.,]*(?:[eE][+-]?\\d{1,2})?";
const SPREAD = `\\s*(?:±|\\+/-|\\+-)\\s*${FIGURE}|\\s?\\(\\s*(?:±\\s*)?${FIGURE}\\s*\\)`; // a sign or brackets behind the figure
const NO_BREAK = "\ue000"; // a space that does not divide: 12.3 (5) is not 12.3(5)

export class Unreadable extends Error {}

export function tooLong(text) {
  return `That is ${Math.round(text.length / 1000)} thousand characters, more than one analysis. Paste the header line and one row, or use “isokom estimate” for a whole table.`;
}

function unitOf(text) {
  const found = text.match(UNIT);
  if (!found) return null;
  return found[2] !== "%" ? "ppm" : /mol/i.test(found[1] ?? "") ? "mol" : "wt";
}

// What a heading or a name in a pair means: {name, unit}, null for what is no oxide and no element in ppm.
function readerFor(composition) {
  const find = (names) => new Map(names.map((name) => [name.toLowerCase(), name]));
  const oxides = find(composition.oxides);
  const elements = find(Object.keys(composition.data.oxide_of_element));
  return (heading, unitText = heading) => {
    const unit = unitOf(unitText);
    const plain = heading.replace(/[₀-₉]/g, (d) => SUBSCRIPTS.indexOf(d)).replace(UNIT, "").trim().toLowerCase();
    if (unit === "ppm" && elements.has(plain)) return { name: elements.get(plain), unit };
    if (unit === "ppm" && oxides.has(plain)) throw new Unreadable(`${oxides.get(plain)} is given in ppm. Isokom takes ppm of the element; turn it into wt% first (10,000 ppm are 1 wt%).`);
    return oxides.has(plain) ? { name: oxides.get(plain), unit } : null;
  };
}

function splitter(header) {
  return [/\t/, /;/, /,/].find((mark) => mark.test(header)) ?? /\s+/;
}

// As short as its field, with the same meaning: 12.3 (5) may be a count and keeps its space.
function tight(cell) {
  return cell.trim().replace(/\s+/g, " ").replace(/ ?(±|\+\/-|\+-) ?/g, "$1").replace(/ \((?=[^()]*[.,])/g, "(");
}

// A sign stays with its figure where only spaces divide.
function joined(line) {
  return line.trim().replace(/\s*(±|\+\/-|\+-)\s*/g, "$1").replace(/([<≤])\s+(?=[\d.,])/g, "$1").replace(/(?<=\d)\s+\((?=[^()]*\))/g, `${NO_BREAK}(`);
}

function fromTable(lines, read) {
  const mark = splitter(lines[0]);
  const cells = (line) => (mark.source === "\\s+" ? joined(line) : line).split(mark).map((cell) => tight(cell.replaceAll(NO_BREAK, " ")));
  const [names, figures] = [cells(lines[0]), cells(lines[1])];
  const known = names.map((name) => read(name));
  if (known.filter(Boolean).length < 2) return null;
  const isShort = figures.length < names.length && ["\\t", ";"].includes(mark.source);
  if (figures.length !== names.length && !isShort) {
    throw new Unreadable(`${names.length} names stand over ${figures.length} figures, so the row cannot be split safely. Separate the cells by tabs or semicolons.`);
  }
  const remarks = lines.length > 2 ? [`Only the first of ${lines.length - 1} rows was read.`] : [];
  return { found: known.map((cell, i) => cell && { ...cell, text: figures[i] ?? "" }).filter(Boolean), remarks };
}

function fromPairs(text, read) {
  const pair = new RegExp(`([A-Za-z][A-Za-z0-9₀-₉]*)\\s*[:=]?\\s*([<≤]?\\s*[-−]?\\s*${FIGURE}(?:${SPREAD})?|${ABSENT})(?![A-Za-z0-9])\\s*((?:wt|mol)?\\s*%|ppm|mg/kg)?`, "g");
  const found = [];
  const strange = [];
  for (const [, name, figure, unit] of text.matchAll(pair)) {
    const cell = read(name, unit ?? "");
    if (cell) found.push({ ...cell, text: tight(figure.replace(/(?<=\d)[.,]$/, "").replace(/([<≤−-])\s+/g, "$1")) });
    else strange.push(name);
  }
  return { found, remarks: strange.length ? [`Not read: ${strange.slice(0, 8).join(", ")}.`] : [] };
}

function sharedUnit(found) {
  const units = new Set(found.filter((cell) => cell.unit !== "ppm" && cell.unit).map((cell) => cell.unit));
  if (units.size > 1) throw new Unreadable("Some figures are in wt%, others in mol%. Bring them to one unit first.");
  return [...units][0] ?? null;
}

/** {found: [{name, unit, text}…], unit: "wt" | "mol" | null, remarks} of one analysis. Throws Unreadable with a sentence. */
export function readPasted(text, composition) {
  if (text.length > LONGEST) throw new Unreadable(tooLong(text));
  const read = readerFor(composition);
  const lines = text.split(/\r?\n/).filter((line) => line.trim());
  const { found, remarks } = (lines.length >= 2 && fromTable(lines, read)) || fromPairs(text, read);
  if (!found.length) throw new Unreadable("No oxide with a figure was found in this text.");
  const keys = found.map((cell) => `${cell.name} ${cell.unit === "ppm"}`);
  const twice = found.find((_cell, i) => keys.indexOf(keys[i]) !== i);
  if (twice) throw new Unreadable(`${twice.name} stands there twice.`);
  return { found, unit: sharedUnit(found), remarks };
}
