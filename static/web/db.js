// The tablet's own store. One door, withDb(): when the browser has closed the connection under us it opens it anew, once.
import { openDB } from "../vendor/idb.js";

const NAME = "isokom";
const VERSION = 1;
let opening = null;

function build(db) {
  const entries = db.createObjectStore("entries", { keyPath: "id" });
  entries.createIndex("place", ["subject", "n"], { unique: true }); // two tabs cannot both write press n
  entries.createIndex("subject", "subject");
  entries.createIndex("kind", "kind");
  entries.createIndex("state", "state");
  db.createObjectStore("facts");
}

function forget() {
  opening = null;
}

function open() {
  opening ??= openDB(NAME, VERSION, {
    upgrade: build,
    terminated: forget,
    blocking: (_now, _wanted, event) => {
      event.target.close();
      forget();
    },
  }).catch((error) => {
    forget();
    throw error;
  });
  return opening;
}

function isLost(error) {
  return error.name === "InvalidStateError" || error.name === "UnknownError";
}

/** Run work(db). A lost connection is opened again and the work repeated once; the work must bear repeating. */
export async function withDb(work) {
  try {
    return await work(await open());
  } catch (error) {
    if (!isLost(error)) throw error;
    forget();
    return work(await open());
  }
}
