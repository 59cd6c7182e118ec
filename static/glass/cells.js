// One typed cell: what the desk's careful reader (server/glass/cells.py) makes of it, for a figure that stands alone. Both are held to one table of cases.
import { ABSENT, BadComposition, parseNumber } from "./composition.js";

/** What printed tables write for "nothing found", in small letters; the same set as NOTHING_FOUND in server/glass/cells.py. */
export const NOTHING_FOUND = new Set([
  ...ABSENT,
  ..."/ . .. ... … b.d b.d.l <loq <mdl <bdl lod n.d n.a n/a nm n.m. n.d.p. nn n.n n.n. ng n.g. n.b n.b.".split(" "),
  ..."traces trc spur spuren sp. tracce tr.ce ud u.d. udl bql bll <ng <bg <nwg <nwgr <nw nwg ld <ld <ldd <l.d. nil none null".split(" "),
  ..."not detected|not found|not analysed|not analyzed|not determined|not measured|below detection|nicht nachgewiesen|nicht bestimmt|non détecté|non determiné|non déterminé|non rilevato|below dl|below lod".split("|"),
]);
const FIGURE = String.raw`(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]?\d{1,2})?`;
const WHOLE = new RegExp(`^${FIGURE}$`);
const PLUS_MINUS = new RegExp(String.raw`^(${FIGURE})\s*(?:±|\+/-|\+-)\s*(${FIGURE})$`);
const BRACKET = new RegExp(String.raw`^(${FIGURE})(\s*)\(\s*(?:±\s*)?(${FIGURE})\s*\)$`);
const UNIT = /\s*(wt\.?\s?%|%|ppm|mg\/kg|μg\/g|ug\/g)$/i;
const MARKED = /(?<=\d)\s*(?:[*†‡§#]+|\s[a-e]|\^?[a-e])$/;
const RAISED = /(?<=\d)\s*[⁰¹²³⁴-⁹]+\s*$/u;
const GROUPED = /(?<=\d)[\s'’](?=\d{3}(?!\d))/g;
const ABOUT = /^(?:[~≈]|ca?\.?|approx\.?|um|env\.?)\s*(?=[.,]?\d)/i;
const BELOW_WORDS = /^\(?(?:<|below )\s*(?:lod|l\.o\.d\.?|dl|d\.l\.?|loq|mdl|det[\p{L}\d_]*|bdl|limit)\)?$/u;
const DATE = /^(?:\d{4}-\d{2}-\d{2}|\d{1,2}\.?[ -]?(?:jan|feb|mar|mär|mrz|apr|may|mai|jun|jul|aug|sep|oct|okt|nov|dec|dez)[\p{L}\d_]*\.?(?:[ -]?\d{2,4})?)$/iu;
const LONGEST = 60;

function refuse(field, words, code) {
  throw new BadComposition(`${field}: ${words}`, code, field);
}

function clean(text) {
  const plain = text.replace(RAISED, "").normalize("NFKC").replace(/\p{Cf}/gu, "");
  return plain.replace(/\s+/g, " ").replace(/−/g, "-").replace(/[‹≤]/g, "<").trim();
}

// The decimal mark that one figure proves; "" where it could be a thousands mark.
function markOf(figure) {
  const commas = figure.split(",").length - 1;
  const points = figure.split(".").length - 1;
  if (commas && points) return figure[Math.max(figure.lastIndexOf(","), figure.lastIndexOf("."))];
  if (commas + points !== 1) return commas > 1 ? "." : points > 1 ? "," : "";
  const mark = commas ? "," : ".";
  const [whole, part] = figure.split(/[eE]/)[0].split(mark);
  return part.length !== 3 || whole === "" || whole === "0" || whole.length > 3 ? mark : "";
}

// A figure with a decimal point; refused where it can be read two ways, or not at all.
function figureOf(figure, field, largest) {
  const plain = figure.replace(GROUPED, "");
  const found = plain.includes(",") ? "," : ".";
  let text = plain.replace(/,/g, ".");
  if (plain.includes(",") && plain.includes(".")) {
    const decimal = markOf(plain);
    text = plain.replaceAll(decimal === "," ? "." : ",", "").replace(decimal, ".");
  } else if (plain.split(found).length > 2) {
    if (!new RegExp(`^\\d{1,3}(\\${found}\\d{3})+$`).test(plain)) refuse(field, `“${figure.slice(0, 40)}” is not a number.`, "not_a_number");
    text = plain.replaceAll(found, "");
  } else if (found === "," && plain.includes(",") && !markOf(plain) && Number(plain.replace(",", "")) <= largest) {
    refuse(field, `${figure} can be read two ways: as ${plain.replace(",", ".")} or ${plain.replace(",", "")}. Choose the decimal mark.`, "ambiguous_comma");
  }
  if (!/^(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,2})?$/.test(text) || text.length > 40) refuse(field, `“${figure.slice(0, 40)}” is not a number.`, "not_a_number");
  return text;
}

function digitsAfterPoint(text) {
  const [figure, power = "0"] = text.split(/[eE]/);
  return (figure.split(".")[1] ?? "").length - Number(power);
}

// 12.34(5) is 0.05 in the last digits (ISO/IEC Guide 98-3, 7.2.2); 12.3 (0.2) is the sd itself; 12.3 (5) may be a count.
function withBracket([, figure, gap, spread], field, largest) {
  const text = figureOf(figure, field, largest);
  if (/[.,]/.test(spread)) return { text, sd: Number(figureOf(spread, field, largest)) };
  const digits = digitsAfterPoint(text);
  return gap || digits <= 0 ? { text, sd: null } : { text, sd: Number(`${Number(spread)}e-${digits}`) };
}

function careful(text, field, unit) {
  const largest = unit === "ppm" ? 1e6 : 100;
  const shown = text.trim();
  let plain = clean(text);
  const small = plain.toLowerCase();
  if (text.length > LONGEST) refuse(field, `“${text.slice(0, 30)}…” is no figure.`, "not_a_number");
  if (NOTHING_FOUND.has(small) || BELOW_WORDS.test(small)) return { text: "bd", sd: null };
  if (DATE.test(plain)) refuse(field, `“${plain.slice(0, 20)}” is a date: the spreadsheet has turned a figure into one. Type the figure anew.`, "a_date");
  if (plain.startsWith("=")) refuse(field, `“${plain.slice(0, 20)}” is a formula without a value. Type the figure itself.`, "formula_only");
  if (plain.startsWith("#")) refuse(field, `“${plain.slice(0, 20)}” is a failed formula of the spreadsheet.`, "failed_formula");
  if (plain.startsWith(">")) refuse(field, `“${plain.slice(0, 20)}” is only a least amount.`, "only_least");
  const named = plain.match(UNIT);
  if (named && (named[1].includes("%") ? unit === "ppm" : unit !== "ppm")) refuse(field, `“${shown.slice(0, 40)}” names another unit.`, "other_unit");
  plain = plain.replace(UNIT, "").replace(MARKED, "").replace(ABOUT, "");
  const [spread, bracket] = [plain.match(PLUS_MINUS), plain.match(BRACKET)];
  if (!spread && !bracket) return alone(plain, field, unit, largest, shown);
  const read = spread ? { text: figureOf(spread[1], field, largest), sd: Number(figureOf(spread[2], field, largest)) } : withBracket(bracket, field, largest);
  if (read.sd > largest) refuse(field, `the ± of ${shown.slice(0, 40)} is more than the whole.`, "too_large");
  return read;
}

function alone(plain, field, unit, largest, shown) {
  const isBelow = plain.startsWith("<");
  const figure = isBelow ? plain.slice(1).trim() : plain.replace(/^\+/, "");
  const bare = figure.replace(/^-+/, "");
  if (!WHOLE.test(bare.replace(GROUPED, ""))) refuse(field, `“${shown.slice(0, 40)}” is not a number.`, "not_a_number");
  const text = figureOf(bare, field, largest);
  if (!figure.startsWith("-")) return { text: `${isBelow ? "<" : ""}${text}`, sd: null };
  if (Number(text) > 0.2 && unit !== "ppm") refuse(field, `${shown.slice(0, 40)} is negative. An amount cannot be below zero.`, "negative");
  return { text: "bd", sd: null }; // slightly below zero is how an instrument prints 'nothing found'
}

/** {text, sd}: a typed cell as composition.amount reads it, and its sd in the same unit or null. Throws BadComposition naming the field. */
export function readTyped(text, field, unit = "wt") {
  try {
    parseNumber(text, field);
    return { text, sd: null };
  } catch (error) {
    if (!["not_a_number", "negative"].includes(error.code)) throw error;
    return careful(text, field, unit);
  }
}
