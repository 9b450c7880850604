// @ts-check
/** The board's clocks run on between two answers of the server, by the server's own clock. */
import { line, put, serverNow } from "./link.js";

const TICK_MS = 250;
/** What falls due by time alone makes no news: the board is asked for again this often, in ms. */
const AGAIN_MS = 10_000;
const NOBODY = 401;
let known = false;

/**
 * @param {number} seconds
 * @returns {string} `2:05`, or `1:02:05`
 */
export function digits(seconds) {
  const whole = Math.max(0, Math.ceil(seconds));
  const two = (/** @type {number} */ one) => String(one).padStart(2, "0");
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  return hours ? `${hours}:${two(minutes)}:${two(whole % 60)}` : `${minutes}:${two(whole % 60)}`;
}

function tick() {
  if (!known) return;
  let over = false;
  for (const place of document.querySelectorAll("[data-until]")) {
    if (!(place instanceof HTMLElement)) continue;
    const left = (Number(place.dataset.until) - serverNow()) / 1000;
    const shown = digits(left);
    if (place.textContent !== shown) place.textContent = shown;
    if (left <= 0 && !place.dataset.asked) {
      place.dataset.asked = "1";
      over = true;
    }
  }
  if (over) again();
}

/** Asks for the board anew; where nobody is signed in any more, the page says so instead of growing old. */
async function again() {
  for (const place of document.querySelectorAll("[data-source]")) {
    if (!(place instanceof HTMLElement) || !place.dataset.source) continue;
    try {
      const answer = await fetch(place.dataset.source, { headers: { "X-Fragment": "1" }, cache: "no-store" });
      if (answer.status === NOBODY) location.reload();
      else if (answer.ok) put(place, await answer.text());
    } catch {
      // The line to the server says that it is away; the next turn asks again.
    }
  }
}

for (const news of ["beat", "news"]) line.addEventListener(news, () => { known = true; });
setInterval(tick, TICK_MS);
setInterval(again, AGAIN_MS * (0.9 + Math.random() / 5));
