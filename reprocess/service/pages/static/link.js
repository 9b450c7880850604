// @ts-check
/**
 * The line to the server: a sign of life every second, and news. Within two seconds of losing the server the page says
 * how old its data is; `document.documentElement.dataset.link` is `here`, `late` or `lost`.
 */

/** Milliseconds without a sign of life after which the page says so. */
export const LATE_MS = 1900;
const TICK_MS = 250;
/** Milliseconds after which the stream is asked for again where the server gave none, at first and at most. */
const AGAIN_MS = 1000;
const AGAIN_MOST_MS = 16_000;

/** @typedef {{at: number, last: number}} Beat `at` is the server's time in ms, `last` the number of the latest entry. */

/** @type {EventTarget} News come as `news`, signs of life as `beat`, changes of the line as `line`. */
export const line = new EventTarget();

let heard = performance.now();
let serverAt = 0;
let state = "here";
let again = AGAIN_MS;
/** @type {EventSource | null} */
let source = null;

/** @returns {number} The server's time now in ms, as far as the last sign of life tells. */
export function serverNow() {
  return serverAt + (performance.now() - heard);
}

/** @returns {number} Whole seconds since the last sign of life. */
export function age() {
  return Math.floor((performance.now() - heard) / 1000);
}

/** @returns {boolean} Whether the server was heard of just now. */
export function here() {
  return state === "here";
}

/** @param {MessageEvent} event */
function beat(event) {
  heard = performance.now();
  again = AGAIN_MS;
  serverAt = JSON.parse(event.data).at;
  judge();
  line.dispatchEvent(new CustomEvent(event.type, { detail: { at: serverAt, last: Number(event.lastEventId) } }));
}

function judge() {
  const silent = performance.now() - heard;
  const next = silent < LATE_MS ? "here" : silent < 10 * LATE_MS ? "late" : "lost";
  document.documentElement.dataset.link = next;
  if (next !== state) {
    state = next;
    line.dispatchEvent(new CustomEvent("line", { detail: next }));
  }
  tell();
}

function tell() {
  for (const place of document.querySelectorAll("[data-link]")) {
    if (!(place instanceof HTMLElement) || place === document.documentElement) continue;
    const text = state === "here" ? (place.dataset.hereText ?? "") : (place.dataset.lateText ?? "");
    const told = text.replace("{seconds}", String(age()));
    if (place.textContent !== told) place.textContent = told;
  }
}

function open() {
  source?.close();
  source = new EventSource("/live");
  source.addEventListener("beat", beat);
  source.addEventListener("news", beat);
  source.addEventListener("error", () => {
    // A browser gives up for good after an answer that is no stream; we do not, but ask ever less often: many pages
    // of one address whose sessions ended must not take the turns of whoever signs in there.
    if (source?.readyState !== EventSource.CLOSED) return;
    setTimeout(open, again);
    again = Math.min(2 * again, AGAIN_MOST_MS);
  });
}

/** Begins to listen. */
export function listen() {
  open();
  setInterval(judge, TICK_MS);
}

/**
 * Asks for a part of a page and puts it in the place of what is there; what has the focus keeps it.
 * @param {HTMLElement} place has `data-source`: the address of its part.
 * @returns {Promise<boolean>} whether it came.
 */
export async function refresh(place) {
  const address = place.dataset.source;
  if (!address) return false;
  try {
    const answer = await fetch(address, { headers: { "X-Fragment": "1" }, cache: "no-store" });
    if (!answer.ok) return false;
    put(place, await answer.text());
    return true;
  } catch {
    return false;
  }
}

/**
 * @param {HTMLElement} place
 * @param {string} html made by our own server, which escapes what is not its own
 */
export function put(place, html) {
  const focused = document.activeElement instanceof HTMLElement ? document.activeElement.id : "";
  const made = new DOMParser().parseFromString(html, "text/html");
  // A press of a finger lasts longer than one answer: what did not change is left standing under it.
  if ("still" in place.dataset && place.innerHTML.trim() === made.body.innerHTML.trim()) return;
  place.replaceChildren(...made.body.childNodes);
  if (focused && place.querySelector(`#${CSS.escape(focused)}`)) document.getElementById(focused)?.focus();
}
