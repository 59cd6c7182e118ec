// The board of a fuse test, seen from above: letters along it, numbers across it, a chip where one lies.
import { at, make, said } from "./kind.js";
import { renew } from "./renew.js";

const COLUMNS = "abcdef";
const SIZES = { "3x4": [3, 4], "4x6": [4, 6], "6x8": [6, 8] };

function holds([columns, rows], square) {
  return COLUMNS.indexOf(square[0]) < columns && Number(square[1]) <= rows;
}

/** What the board remembers on this tablet: its size, at least as large as the chips on it need. */
export function boardFor(places) {
  const place = `isokom-measure-board:${new URLSearchParams(location.search).get("m")}`;
  const fits = (name, measured) => places(measured).every((square) => holds(SIZES[name], square));
  return {
    size: (measured) => {
      const wanted = localStorage.getItem(place) ?? "3x4";
      return fits(wanted, measured) ? wanted : Object.keys(SIZES).find((name) => fits(name, measured));
    },
    fits,
    choose: (name) => localStorage.setItem(place, name),
  };
}

function square(name, measured, task, go) {
  const letter = measured.readings.get(`${name}/glass`);
  const rounding = measured.readings.get(`${name}/rounding`);
  const code = measured.dishes.find(({ place }) => place === name)?.code;
  const called = code && measured.isCovered ? `dish ${code}` : [`glass ${letter}`, code && `dish ${code}`].filter(Boolean).join(", ");
  const small = code && !measured.isCovered ? `${name} · ${code}` : name;
  const parts = letter ? [make("b", { textContent: letter }), make("span", { className: "square-name", textContent: small })] : [make("span", { className: "square-name", textContent: name })];
  const button = make("button", { type: "button", className: letter ? "square laid" : "square" }, ...parts);
  button.dataset.square = name;
  button.setAttribute("aria-label", `${name}: ${letter ? `${called}${rounding ? `, ${said("rounding", rounding).toLowerCase()}` : ""}` : "free"}`);
  if (rounding) button.dataset.rounding = rounding;
  if (task?.place === name) button.setAttribute("aria-current", "true");
  button.onclick = () => go(name);
  return button;
}

/** Draw it; touching a square calls go(square). */
export function drawBoard(board, state, task, go) {
  const name = board.size(state.measured);
  const [columns, rows] = SIZES[name];
  for (const radio of document.querySelectorAll("[name=board]")) {
    radio.checked = radio.value === name;
    radio.disabled = !board.fits(radio.value, state.measured);
    radio.onchange = () => {
      board.choose(radio.value);
      drawBoard(board, state, task, go);
    };
  }
  const squares = Array.from({ length: rows }, (_x, row) => [...COLUMNS].slice(0, columns).map((letter) => `${letter}${row + 1}`)).flat();
  at("board").dataset.columns = String(columns);
  renew(at("board"), ...squares.map((one) => square(one, state.measured, task, go)));
}
