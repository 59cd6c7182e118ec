// Where this page was opened, as far as it matters for what is recorded: a tablet's book belongs to scheme, name and port, and on an iPad to the home screen.
import { isAppleTab, isLoopback } from "../web/home.js";
import { make } from "../web/parts.js";

const BEGINS = /^\/(bench\/(new|plan|measure)|finds|glass\/new|make\/(colour|blend|batch|kiln))$/; // pages on which something new is begun; one that runs is never covered
const BENCH = /^\/bench(\/|$)/;
const HERE = "isokom-here-all-the-same";
const SEEN = "isokom-other-place-seen";
const PATIENCE_MS = 6000;

function homeFirst(main) {
  const stay = make("button", { type: "button", className: "quiet", textContent: "Record here all the same" });
  const words = make(
    "section",
    { id: "home-first", className: "notice caution" },
    make("h2", { textContent: "First put Isokom on the home screen" }),
    make("p", { textContent: "In a tab, this device may throw away what is recorded after seven days without a visit. Opened from the home screen it stays." }),
    make("ol", {}, ...["Tap Share (the square with an arrow).", "Choose “Add to Home Screen”.", "Open Isokom there, join the desk there, and begin there."].map((step) => make("li", { textContent: step }))),
    make("p", { className: "row" }, make("a", { href: "/device", className: "button", textContent: "Is this device fit?" }), stay),
    make("p", { className: "small", textContent: "Only if it has to be now: then send everything to the desk today." }),
  );
  main.prepend(words);
  main.classList.add("later");
  stay.addEventListener("click", () => {
    sessionStorage.setItem(HERE, "yes");
    words.remove();
    main.classList.remove("later");
  });
}

/** On an iPad's tab, nothing new is begun before a person has read why not; a person in need may. */
export function askForHome(main = document.querySelector("#main")) {
  if (BEGINS.test(location.pathname) && isAppleTab() && !isLoopback() && !sessionStorage.getItem(HERE)) homeFirst(main);
}

/** Whether the tablet's store can be read is said on every page; where it cannot, the bench offers nothing to begin. A press area that is in use is never covered. */
export function sayUnreadable(isBroken, main = document.querySelector("#main")) {
  const told = document.querySelector("#store-broken");
  if (!isBroken) {
    told?.remove();
    if (!document.querySelector("#home-first")) main.classList.remove("later");
  }
  if (!isBroken || told || document.querySelector("#press:not([hidden], [hidden] *)")) return;
  const again = make("button", { type: "button", textContent: "Try again" });
  main.prepend(
    make(
      "section",
      { id: "store-broken", className: "notice caution" },
      make("h2", { textContent: "This device’s store cannot be read" }),
      make("p", { textContent: "So nothing can be recorded now. Close every window of Isokom and open it again; if that does not help, restart the device. Do not clear the browser’s data: what was recorded may still be there." }),
      make("p", { className: "row" }, again),
    ),
  );
  if (BENCH.test(location.pathname)) main.classList.add("later");
  again.addEventListener("click", () => location.reload());
}

async function keptAddress() {
  const answer = await fetch("/health", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) }).catch(() => null);
  return answer?.ok ? ((await answer.json()).address ?? "") : "";
}

/** Said once a visit: this page was opened under another name than the one that tablets know, so it has another, empty book. */
export async function sayOtherPlace(main = document.querySelector("#main")) {
  if (isLoopback() || sessionStorage.getItem(SEEN)) return;
  const address = await keptAddress();
  if (!address || address === location.origin) return;
  const understood = make("button", { type: "button", className: "quiet", textContent: "Understood" });
  const words = make("p", {}, `This page was opened as ${location.origin}. What a tablet records belongs to the address it was opened under; this desk’s tablets use `, make("a", { href: `${address}${location.pathname}`, textContent: address }), ".");
  const notice = make("section", { id: "other-place", className: "notice caution" }, words, make("p", { className: "row" }, understood));
  main.prepend(notice);
  understood.addEventListener("click", () => {
    sessionStorage.setItem(SEEN, "yes");
    notice.remove();
  });
}
