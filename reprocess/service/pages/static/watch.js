// @ts-check
/**
 * A page that shows what is: its parts with `data-source` are asked for again when there is news, once a second at most,
 * and ever less often where they are not given.
 */
import { here, line, listen, refresh } from "./link.js";

let wanted = true;
let asking = false;
/** Seconds between two turns, and those that are left until the next. */
let every = 1;
let left = 0;
const EVERY_MOST = 16;

async function again() {
  if (!wanted || asking || --left > 0) return;
  wanted = false;
  asking = true;
  let failed = false;
  for (const place of document.querySelectorAll("[data-source]")) {
    if (place instanceof HTMLElement && !(await refresh(place))) failed = true;
  }
  wanted ||= failed;
  every = failed ? Math.min(2 * every, EVERY_MOST) : 1;
  left = every;
  asking = false;
}

function atOnce() {
  wanted = true;
  left = 0;
}

line.addEventListener("news", atOnce);
line.addEventListener("line", () => { if (here()) atOnce(); });
listen();
setInterval(again, 1000);
