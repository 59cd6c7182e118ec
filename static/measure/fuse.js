// The fuse test: chips on a board, each square measured before and after the firing.
import { boardFor, drawBoard } from "./board.js";
import { chipShape, skin } from "./drawings.js";
import { start } from "./page.js";

const BEFORE = ["mass_g", "height_before_mm", "width_before_mm"];
const AFTER = ["height_after_mm", "width_after_mm", "rounding", "skin"];
const DRAWINGS = { rounding: chipShape, skin };

/** Squares with a chip, or with a reading, in the order of the board. */
function places({ readings }) {
  return [...new Set([...readings.keys()].map((id) => id.split("/")[0]))].sort();
}

const LAY = { title: "Lay out the chips", hint: "Touch a square of the board above, then choose the glass that lies there. Leave a square free between chips." };
const LAY_DISHES = { title: "Lay the dishes out", hint: "Lay the chip of each dish on the square that bears its code." };

function tasks(measured) {
  const squares = places(measured);
  const each = (names) => squares.flatMap((place) => names.map((quantity) => ({ place, quantity })));
  const place = { gate: "place", stays: true, ...(measured.session ? LAY_DISHES : LAY), button: squares.length ? "All chips lie there" : "" };
  const fire = { gate: "fire", caution: true, title: "Now fire the board", hint: "Raise it as you set, hold, and let the kiln cool shut. Then measure each chip again, from the side, at its highest and widest.", button: "It is fired and cold" };
  return squares.length ? [place, ...each(BEFORE), fire, ...each(AFTER)] : [place];
}

const board = boardFor(places);

function draw(state, task, go) {
  drawBoard(board, state, task, (square) => {
    const isPlaced = state.measured.readings.has(`${square}/glass`);
    if (state.measured.session && !isPlaced) return;
    const isAfter = AFTER.includes(task?.quantity);
    const isLaying = !state.measured.session && (!task || task.gate === "place" || task.quantity === "glass");
    go(!isPlaced || isLaying ? `${square}/glass` : `${square}/${isAfter ? AFTER[0] : BEFORE[1]}`);
  });
}

start({ places, letter: (measured, place) => measured.readings.get(`${place}/glass`) ?? "", tasks, draw, most: 0, drawing: (quantity, word) => DRAWINGS[quantity]?.(word) ?? null });
