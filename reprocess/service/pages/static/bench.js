// @ts-check
/**
 * The bench: scans one after the other to the server, its answer in sight and by ear, the clocks between two answers,
 * and what is done while the server is away. Without this file the page works as a plain form.
 */
import { Clocks } from "./clocks.js";
import { ANSWER_MS, Away, Kept, newKey, parted, Store } from "./kept.js";
import { useMeasure } from "./measure.js";
import { here, line, listen, put, refresh } from "./link.js";
import { Echo, Frame, judged, USUAL } from "./scanner.js";
import { isQuiet, play, setQuiet, wake } from "./sound.js";

/** @typedef {import("./scanner.js").Scan} Scan */
/** @typedef {import("./scanner.js").Settings} Settings */
/** @typedef {import("./sound.js").Name} Name */

/** Milliseconds from the last key of a scan until its answer was painted: the latest 200. */
/** @type {number[]} */
export const benchTimes = [];
const TIMES_MOST = 200;
/** Scans that wait for their turn at most (our choice); more come only where something is stuck. */
const WAITING_MOST = 20;
/** Seconds for which a command waits for further items. */
export const BATCH_S = 30;
/** Milliseconds after which a scan whose answer was lost is asked again, once. */
const AGAIN_MS = 700;
/** Milliseconds after which a fact that met a fault of the server is sent again. */
const SENDS_MS = 3000;
/** Milliseconds by which the server's time may run ahead of this screen's before its clocks are asked for anew. */
const SLEPT_MS = 1500;
/** Under this name a screen keeps how its scanner is set up. */
const SCANNER = "bench.scanner";
const SOUNDS = /** @type {Set<string>} */ (new Set(["accepted", "refused", "held", "tick"]));

const form = /** @type {HTMLFormElement} */ (must("scan"));
const answer = must("answer");
const section = must("clocks");
const words = must("words").dataset;
const station = document.body.dataset.station ?? "";
const local = made("local", answer);
const batch = made("batch", answer);
const clocks = new Clocks(section, words);
const store = new Store(station);
const kept = new Kept(store, made("kept", answer), words.keptAddress ?? "", words);
const echo = new Echo();

/** @typedef {{scan: Scan, fields: URLSearchParams | null}} Waiting A scan; `fields` where a person sent the form. */
/** @type {Waiting[]} */
const queue = [];
let busy = false;
let heard = 0;
/** @type {Away | null} */
let away = null;
let batchEnds = Infinity;
/** When what stands here came: a yes or no that was scanned before is about something else. */
let came = -Infinity;
/** How far the server's time was ahead of this screen's, lately; and at least, since its clocks came. */
let lately = Infinity;
let ahead = Infinity;

/**
 * @param {string} id
 * @returns {HTMLElement}
 */
function must(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no #${id}`);
  return found;
}

/**
 * @param {string} id
 * @param {HTMLElement} before
 * @returns {HTMLElement} A part of the page that only the script fills.
 */
function made(id, before) {
  const part = document.createElement("section");
  part.id = id;
  part.hidden = true;
  (form.contains(before) ? form : before).before(part);
  return part;
}

/** @param {Scan} scan */
function take(scan) {
  wake();
  clocks.silence();
  kept.settle();
  if (scan.fault) return refuseHere(scan.fault, scan);
  if (echo.isEcho(scan)) return play("tick");
  if (kept.first && here() && !pending().length && isCommand(scan.text, "NEXT")) {
    return void kept.confirm(kept.first);
  }
  add({ scan, fields: null });
}

/**
 * @param {string} text
 * @param {...string} names
 */
function isCommand(text, ...names) {
  const { kind, name } = parted(text);
  return kind === "C" && names.includes(name);
}

/** @param {Waiting} one */
function add(one) {
  if (queue.length >= WAITING_MOST) return refuseHere("many", one.scan);
  queue.push(one);
  if (!busy) void work();
}

/** One at a time, in their order: each needs what the answer before it brought. */
async function work() {
  busy = true;
  try {
    for (let one = queue.shift(); one; one = queue.shift()) await send(one);
  } finally {
    busy = false;
  }
}

/** @param {Waiting} one */
async function send({ scan, fields }) {
  if (!here()) return whileAway(scan, fields, null);
  if (!fields && scan.at < came && isCommand(scan.text, "YES", "NO")) return refuseHere("unseen", scan);
  const body = fields ?? withCode(scan.text);
  const html = (await asked(body)) ?? (await again(body));
  if (html === null) return whileAway(scan, fields, body);
  if (!show(html)) await renew();
  void painted().then(() => time(performance.now() - scan.at));
}

/**
 * @param {string} code
 * @returns {URLSearchParams} The form with a scanned code: never with a PIN that somebody had begun to type.
 */
function withCode(code) {
  const body = fieldsOf(form);
  for (const field of form.elements) {
    if (field instanceof HTMLInputElement && field.type === "password") body.delete(field.name);
  }
  body.set("code", code);
  return body;
}

/**
 * @param {HTMLFormElement} from
 * @param {HTMLElement | null} [by] the button
 */
function fieldsOf(from, by = null) {
  const body = new URLSearchParams();
  for (const [name, value] of new FormData(from, by)) if (typeof value === "string") body.append(name, value);
  return body;
}

/**
 * @param {URLSearchParams} body
 * @returns {Promise<string | null>} The server's answer; none where the line broke.
 */
async function asked(body) {
  try {
    const signal = AbortSignal.timeout(ANSWER_MS);
    const headers = { "X-Fragment": "1" };
    const got = await fetch(form.action, { method: "POST", body, headers, signal, cache: "no-store" });
    return await got.text();
  } catch {
    return null;
  }
}

/**
 * Asks once more under the same key, which records once: an answer may have been lost on its way.
 * @param {URLSearchParams} body
 */
async function again(body) {
  await new Promise((done) => setTimeout(done, AGAIN_MS));
  return here() ? asked(body) : null;
}

/**
 * @param {string} html
 * @returns {boolean} Whether the answer brought its own form; a page of a problem does not.
 */
function show(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const whole = page.getElementById("answer");
  const told = page.querySelector("section.answer");
  const brings = whole !== null || page.querySelector("input[name=key]") !== null;
  uncover();
  away = null;
  came = performance.now();
  if (brings) put(answer, whole ? whole.innerHTML : html);
  else if (told) cover(told.outerHTML);
  else cover(box("refused", "problem", "").outerHTML);
  for (const part of page.querySelectorAll("[data-swap][id]")) {
    const mine = document.getElementById(part.id);
    if (mine && !answer.contains(mine)) put(mine, part.innerHTML);
  }
  const shown = /** @type {HTMLElement | null} */ ((brings ? answer : local).querySelector("section.answer"));
  heed(shown);
  judgeReady();
  clear();
  if (kept.waits) void sendKept();
  return brings;
}

/** @param {HTMLElement | null} shown the answer, whose sound, batch and focus are heeded */
function heed(shown) {
  const sound = shown?.dataset.sound ?? "";
  if (SOUNDS.has(sound)) play(/** @type {Name} */ (sound));
  batchEnds = shown?.dataset.batch === "1" ? performance.now() + BATCH_S * 1000 : Infinity;
  count();
  const wanted = shown?.parentElement?.querySelector("[autofocus]");
  if (wanted instanceof HTMLElement) wanted.focus();
  if (shown?.dataset.reload === "1") location.reload();
}

/** The field for typed codes is empty again. */
function clear() {
  const field = form.elements.namedItem("code");
  if (field instanceof HTMLInputElement) field.value = "";
}

/**
 * The bench begins anew, with another key: a problem brought no form, or what stands here is out of date.
 * @param {() => boolean} [wanted] whether it still should, once the page is here
 */
async function renew(wanted = () => true) {
  try {
    const got = await fetch(location.href, { cache: "no-store", signal: AbortSignal.timeout(ANSWER_MS) });
    const page = new DOMParser().parseFromString(await got.text(), "text/html");
    const whole = page.getElementById("answer");
    if (!whole || !wanted()) return;
    came = performance.now();
    put(answer, whole.innerHTML);
  } catch {
    // The next scan meets the same broken line, and says so.
  }
}

/**
 * @param {Scan} scan
 * @param {URLSearchParams | null} fields
 * @param {URLSearchParams | null} sent what was sent, where its answer was lost
 */
function whileAway(scan, fields, sent) {
  if (sent) anotherKey();
  if (fields?.get("code") === "" || !scan.text) return tellHere("refused", "away", scan);
  away ??= new Away(pending());
  const told = away.take(scan.text);
  forgetPending();
  if (told.sort === "waiting") return tellHere("kept", `away-${told.wanted}`, scan, "tick");
  if (told.sort === "refused") return tellHere("refused", sent ? "lost" : "away", scan);
  const key = sent?.get("key") ?? newKey();
  const person = (document.querySelector("#answer [data-person]") ?? must("words")).getAttribute("data-person") ?? "";
  const strip = (document.querySelector("[data-strip]") ?? document.querySelector(".who"))?.textContent?.trim() ?? "";
  const fact = { key, codes: told.codes, strip, person, seen: heard, maybe: sent !== null };
  if (!store.keep(fact)) return tellHere("refused", "full", scan);
  tellHere("kept", "kept-here", scan, "tick");
  kept.show();
}

/** The key of what was sent belongs to that alone: what comes next has another one. */
function anotherKey() {
  const field = form.elements.namedItem("key");
  if (field instanceof HTMLInputElement) field.value = newKey();
}

/** @returns {string[]} What was scanned before and waits for its command. */
function pending() {
  return fieldsOf(form).getAll("pending");
}

function forgetPending() {
  for (const one of form.querySelectorAll("input[name=pending]")) one.remove();
  batchEnds = Infinity;
  count();
}

/**
 * @param {string} fault
 * @param {Scan} scan
 */
function refuseHere(fault, scan) {
  tellHere("refused", fault, scan);
}

/**
 * An answer of this screen alone stands in the place of the server's latest, which is out of date.
 * @param {"refused" | "kept"} sort
 * @param {string} key of the sentence
 * @param {Scan} scan
 * @param {Name} [sound]
 */
function tellHere(sort, key, scan, sound = "refused") {
  cover(box(sort, key, scan.shown).outerHTML);
  play(sound);
  void painted().then(() => time(performance.now() - scan.at));
}

/**
 * @param {"refused" | "kept" | "noted"} sort
 * @param {string} key of the sentence
 * @param {string} scanned what a screen may show of the code
 */
function box(sort, key, scanned) {
  const made = element("section", `answer ${sort}`, "");
  made.setAttribute("role", sort === "refused" ? "alert" : "status");
  const title = element("h2", "", "");
  title.append(shape(SHAPES[sort]), " ", words[sort] ?? "");
  const seen = element("p", "seen", "");
  seen.append(element("bdi", "", scanned));
  made.append(title, element("p", "next", words[camel(key)] ?? ""), seen);
  return made;
}

/** @type {Record<"refused" | "kept" | "noted", string>} */
const SHAPES = { refused: "refused", kept: "wait", noted: "noted" };

/**
 * @param {string} kind
 * @param {string} look
 * @param {string} text
 */
function element(kind, look, text) {
  const made = document.createElement(kind);
  if (look) made.className = look;
  made.textContent = text;
  return made;
}

/** @param {string} html ours, or made by our own server */
function cover(html) {
  put(local, html);
  local.hidden = false;
  answer.classList.add("covered");
}

function uncover() {
  local.hidden = true;
  local.replaceChildren();
  answer.classList.remove("covered");
}

/** @param {string} name */
function shape(name) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("class", "shape");
  svg.setAttribute("aria-hidden", "true");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  use.setAttribute("href", `${words.shapes ?? ""}#${name}`);
  svg.append(use);
  return svg;
}

/** @param {string} key `away-item` is `awayItem` in a dataset */
function camel(key) {
  return key.replace(/-(\w)/g, (_, letter) => letter.toUpperCase());
}

/** @returns {Promise<void>} When what is there now has been painted. */
function painted() {
  return new Promise((done) => {
    requestAnimationFrame(() => {
      const { port1, port2 } = new MessageChannel();
      port1.onmessage = () => done();
      port2.postMessage(0);
    });
  });
}

/** @param {number} ms */
function time(ms) {
  benchTimes.push(ms);
  if (benchTimes.length > TIMES_MOST) benchTimes.shift();
}

/** Shows how long a command still waits for further items, and ends it. */
function count() {
  const left = Math.ceil((batchEnds - performance.now()) / 1000);
  batch.hidden = !Number.isFinite(left);
  if (batch.hidden) return;
  const told = (words.batch ?? "").replace("{seconds}", String(Math.max(0, left)));
  if (batch.textContent !== told) batch.textContent = told;
  if (left > 0) return;
  forgetPending();
  cover(box("noted", "batch-over", "").outerHTML);
}

/** Sends what is kept; then what stood here before is out of date, and the bench begins anew. */
async function sendKept() {
  if (!(await kept.send()) || busy) return;
  await renew(() => !busy);
  if (!busy) uncover();
}

/** What was said to be ready is not known while the server is away. @type {Map<Element, Node[]>} */
const covered = new Map();

function judgeReady() {
  document.body.classList.toggle("alone", !here());
  if (here()) {
    for (const [place, was] of covered) place.replaceChildren(...was);
    covered.clear();
    return;
  }
  for (const place of document.querySelectorAll("[data-ready]")) {
    if (covered.has(place)) continue;
    covered.set(place, [...place.childNodes]);
    place.textContent = words.unknown ?? "";
  }
}

let wanted = true;
let asking = false;

async function freshClocks() {
  if (!wanted || asking || !here()) return;
  wanted = false;
  asking = true;
  if (await refresh(section)) {
    clocks.taken();
    ahead = lately;
  } else wanted = true;
  asking = false;
}

/** @param {SubmitEvent} event A person typed a code, or a PIN: the form goes the same way as a scan. */
function submitted(event) {
  event.preventDefault();
  wake();
  clocks.silence();
  const fields = fieldsOf(form, event.submitter);
  const scan = judged((fields.get("code") ?? "").trim(), performance.now());
  if (scan.fault) refuseHere(scan.fault, scan);
  else add({ scan, fields });
}

/** @returns {Settings} How this screen's scanner is set up; somebody keeps it on the page of measures. */
function settings() {
  try {
    const found = JSON.parse(localStorage.getItem(SCANNER) ?? "{}");
    return { ...USUAL, ...found };
  } catch {
    return USUAL;
  }
}

useMeasure();
new Frame(settings(), take).listen();
form.addEventListener("submit", submitted);
document.addEventListener("pointerdown", wake);
document.addEventListener("keydown", wake);
document.querySelector("[data-quiet]")?.addEventListener("click", () => setQuiet(!isQuiet()));
line.addEventListener("line", () => {
  judgeReady();
  clocks.tick();
  if (here()) void sendKept();
});
line.addEventListener("beat", hear);
line.addEventListener("news", (event) => { hear(event); wanted = true; });
clocks.start();
kept.show();
listen();
line.addEventListener("beat", () => { void sendKept(); }, { once: true });
setInterval(() => { void freshClocks(); count(); }, 500);
setInterval(() => { if (here() && kept.waits) void sendKept(); }, SENDS_MS);
heed(/** @type {HTMLElement | null} */ (answer.querySelector("section.answer[data-batch]")));
Object.assign(window, { benchTimes });
document.body.classList.add("scripted");

/**
 * @param {Event} event brings the number of the latest entry, as a fact that is kept says up to where its screen knew;
 *     and the server's time: a computer that slept did not count on meanwhile, and no film dries unseen for that
 */
function hear(event) {
  const now = event instanceof CustomEvent ? Number(event.detail.at) - performance.now() : NaN;
  if (now - ahead > SLEPT_MS) wanted = true;
  lately = now;
  if (now < ahead) ahead = now;
  const last = event instanceof CustomEvent ? Number(event.detail.last) || 0 : 0;
  heard = Math.max(heard, last);
  document.body.dataset.heard = String(heard);
}
