// Read one analysis out of a pasted table row or a list of pairs. What cannot be split safely is refused, not guessed.
const LONGEST = 20_000;
const SUBSCRIPTS = "₀₁₂₃₄₅₆₇₈₉";

export class Unreadable extends Error {}

function plainName(text) {
  return text.trim().replace(/[₀-₉]/g, (d) => SUBSCRIPTS.indexOf(d)).replace(/\s*\(?(wt|mol)?\s*%\)?$/i, "");
}

function nameFinder(composition) {
  const byLower = new Map(composition.oxides.map((name) => [name.toLowerCase(), name]));
  return (text) => byLower.get(plainName(text).toLowerCase());
}

function splitter(header) {
  return header.includes("\t") ? /\t/ : header.includes(";") ? /;/ : header.includes(",") ? /,/ : /\s+/;
}

function fromTable(lines, find) {
  const split = splitter(lines[0]);
  const names = lines[0].trim().split(split).map((cell) => cell.trim());
  const figures = lines[1].trim().split(split).map((cell) => cell.trim());
  if (names.filter(find).length < 2) return null;
  if (names.length !== figures.length) {
    throw new Unreadable(`${names.length} names stand over ${figures.length} figures, so the row cannot be split safely. Separate the cells by tabs or semicolons.`);
  }
  return names.map((name, i) => [find(name), figures[i]]).filter(([name]) => name);
}

function fromPairs(text, find) {
  const pairs = [...text.matchAll(/([A-Za-z][A-Za-z0-9₀-₉]*)\s*[:=]?\s*(<?\s*\d[\d.,]*|bd|nd|tr|b\.d\.|n\.d\.)/g)];
  return pairs.map(([, name, figure]) => [find(name), figure.replace(/[.,]$/, "")]).filter(([name]) => name);
}

/** [[oxide, text]…] of one analysis. Throws Unreadable with a sentence. */
export function readPasted(text, composition) {
  if (text.length > LONGEST) throw new Unreadable(`That is ${Math.round(text.length / 1000)} thousand characters, more than one analysis. Paste the header line and one row, or use “isokom estimate” for a whole table.`);
  const find = nameFinder(composition);
  const lines = text.split(/\r?\n/).filter((line) => line.trim());
  const found = (lines.length >= 2 && fromTable(lines, find)) || fromPairs(text, find);
  if (!found.length) throw new Unreadable("No oxide with a figure was found in this text.");
  const names = found.map(([name]) => name);
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice) throw new Unreadable(`${twice} stands there twice.`);
  return found;
}
