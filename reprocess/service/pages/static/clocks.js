// @ts-check
/**
 * The running clocks of a bench. The server says how many seconds are left; this screen counts on between two answers,
 * by `performance.now` alone, so that a clock set wrongly changes nothing. At zero a clock asks for its confirmation:
 * no screen says that a contact is done.
 */
import { here } from "./link.js";
import { AGAIN_MS, play } from "./sound.js";

/** Seconds left above which a clock stands in the rail at the side (our choice: longer than most contacts). */
export const LONG_S = 20 * 60;
/** Clocks that are shown large; further ones stand in the rail. */
export const LARGE_MOST = 8;
/** Clocks beside which an answer has its whole height; beside more it is laid out in one row. */
const ROOMY_MOST = 6;
/** The film's share, and seconds, before it dries at which the cue comes: whichever is less (our choice). */
export const CUE_SHARE = 0.25;
export const CUE_S = 30;
/** What the server's own cue leaves of a film life: it comes at four fifths of it (rule T03). */
const SERVER_SHARE = 0.2;
const TICK_MS = 250;

/** @typedef {"wet" | "wait" | "rewet" | "confirm" | "overdue"} Due */
/**
 * @typedef {object} Reading Seconds at one moment; null where a clock has no such time.
 * @property {number} left until the least time is over
 * @property {number | null} rewet until the server wants it wetted again
 * @property {number | null} most until the longest time is over
 * @property {number | null} film the life of the film
 */
/** @typedef {{due: Due, next: number}} State What a clock asks for, and the seconds until then. */
/** @type {Record<Due, string>} The shape of each state in the sheet of shapes. */
export const SHAPES = { wet: "wet", wait: "wait", rewet: "wet", confirm: "hand", overdue: "overdue" };

/**
 * @param {Reading} from as the server told it
 * @param {number} gone seconds since then
 * @returns {State}
 */
export function stateAt(from, gone) {
  const left = from.left - gone;
  if (left <= 0) {
    const over = from.most !== null && from.most - gone <= 0;
    return { due: over ? "overdue" : "confirm", next: left };
  }
  if (from.rewet === null) return { due: "wait", next: left };
  const cue = from.rewet - lead(from.film) - gone;
  if (cue <= 0) return { due: "rewet", next: cue };
  return cue < left ? { due: "wet", next: cue } : { due: "wait", next: left };
}

/**
 * @param {number | null} film seconds
 * @returns {number} Seconds by which our cue comes before the server's, never after it.
 */
function lead(film) {
  return film === null ? 0 : Math.max(0, Math.min(film * CUE_SHARE, CUE_S) - film * SERVER_SHARE);
}

/**
 * @param {number} seconds
 * @returns {string} Minutes and seconds, rounded up, so that nothing reads as over before it is; hours from one on.
 */
export function digits(seconds) {
  const whole = Math.ceil(Math.max(0, seconds));
  const [hours, minutes, rest] = [Math.floor(whole / 3600), Math.floor(whole / 60) % 60, whole % 60];
  const two = String(hours ? minutes : rest).padStart(2, "0");
  return hours ? `${hours}h${two}` : `${minutes}:${two}`;
}

/** @param {State} state A film that dries comes before all that only waits: no other clock is void in a moment. */
function dries(state) {
  return state.due === "rewet";
}

/** The clocks of one page: their elements, from when they are counted, and when each last gave its cue. */
export class Clocks {
  #since = 0;
  /** @type {Map<string, number>} */
  #cued = new Map();
  #order = "";

  /**
   * @param {HTMLElement} section holds the clocks as the server made them
   * @param {DOMStringMap} words what each state is called
   */
  constructor(section, words) {
    this.section = section;
    this.words = words;
    this.rail = document.createElement("ol");
    this.rail.id = "rail";
    this.rail.setAttribute("aria-label", words.rail ?? "");
    (section.closest("main") ?? document.body).prepend(this.rail);
  }

  /** Begins to count. */
  start() {
    this.taken();
    setInterval(() => this.tick(), TICK_MS);
  }

  /** The server's clocks are new. */
  taken() {
    this.#since = performance.now();
    this.#order = "";
    this.rail.replaceChildren();
    for (const clock of this.#all()) this.#dress(clock);
    this.tick();
  }

  /** A scan silences what sounds. */
  silence() {
    const now = performance.now();
    for (const name of this.#cued.keys()) this.#cued.set(name, now);
  }

  /** @returns {HTMLElement[]} */
  #all() {
    const found = [...document.querySelectorAll("#clocks [data-clock], #rail [data-clock]")];
    return /** @type {HTMLElement[]} */ (found);
  }

  /** @param {HTMLElement} clock is given its letter, shape, digits and word; what the server wrote stands beside it */
  #dress(clock) {
    clock.classList.add("clock");
    const about = part("span", "about", "");
    about.append(...clock.childNodes);
    const foot = part("div", "foot", "");
    foot.append(part("strong", "due", ""), about);
    const letter = part("b", "letter", clock.dataset.letter ?? "");
    const shape = document.createElementNS(SVG, "svg");
    shape.setAttribute("class", "shape");
    shape.setAttribute("aria-hidden", "true");
    shape.append(document.createElementNS(SVG, "use"));
    const time = part("span", "digits", "");
    time.setAttribute("role", "timer");
    clock.append(letter, shape, time, foot);
  }

  /** Counts, says what each clock asks for, and puts the one that asks first in front. */
  tick() {
    const gone = (performance.now() - this.#since) / 1000;
    const told = this.#all().map((clock) => {
      const from = reading(clock);
      const state = stateAt(from, gone);
      this.#tell(clock, state, from.left - gone);
      return { clock, state, left: from.left - gone };
    });
    told.sort((one, other) =>
      Number(dries(other.state)) - Number(dries(one.state)) ||
      one.state.next - other.state.next || (name(one.clock) < name(other.clock) ? -1 : 1));
    this.#arrange(told);
  }

  /**
   * @param {HTMLElement} clock
   * @param {State} state
   * @param {number} left seconds
   */
  #tell(clock, state, left) {
    say(clock.querySelector(".digits"), digits(left));
    const over = left <= -1 ? `+${digits(Math.floor(-left))}` : "";
    const told = [this.words[state.due], over, here() ? "" : this.words.alone];
    say(clock.querySelector(".due"), told.filter(Boolean).join(" "));
    if (clock.dataset.due !== state.due) {
      clock.dataset.due = state.due;
      clock.querySelector("use")?.setAttribute("href", `${this.words.shapes ?? ""}#${SHAPES[state.due]}`);
    }
    if (state.due === "rewet") this.#cue(name(clock));
    else this.#cued.delete(name(clock));
  }

  /** @param {string} clock sounds at once, and again where nobody does anything */
  #cue(clock) {
    const last = this.#cued.get(clock);
    if (last !== undefined && performance.now() - last < AGAIN_MS) return;
    this.#cued.set(clock, performance.now());
    play("wet");
  }

  /** @param {{clock: HTMLElement, state: State, left: number}[]} told first what asks first */
  #arrange(told) {
    const large = told.filter((one) => one.state.next <= 0 || one.left <= LONG_S).slice(0, LARGE_MOST);
    const rail = told.filter((one) => !large.includes(one));
    const order = [...large.map((one) => name(one.clock)), "|", ...rail.map((one) => name(one.clock))].join(" ");
    if (order === this.#order) return;
    this.#order = order;
    const list = this.section.querySelector("ol, ul") ?? this.section;
    list.append(...large.map((one) => one.clock));
    this.rail.append(...rail.map((one) => one.clock));
    this.rail.hidden = rail.length === 0;
    document.body.classList.toggle("crowded", large.length > ROOMY_MOST);
  }
}

const SVG = "http://www.w3.org/2000/svg";

/** @param {HTMLElement} clock */
function name(clock) {
  return clock.dataset.clock || (clock.dataset.letter ?? "");
}

/**
 * @param {HTMLElement} clock
 * @returns {Reading}
 */
function reading(clock) {
  const { left, rewet, most, film } = clock.dataset;
  return { left: number(left) ?? 0, rewet: number(rewet), most: number(most), film: number(film) };
}

/** @param {string | undefined} text */
function number(text) {
  return text === undefined || text === "" || Number.isNaN(Number(text)) ? null : Number(text);
}

/**
 * @param {string} kind
 * @param {string} look
 * @param {string} text
 */
function part(kind, look, text) {
  const made = document.createElement(kind);
  made.className = look;
  made.textContent = text;
  return made;
}

/**
 * @param {Element | null} place
 * @param {string} text
 */
function say(place, text) {
  if (place && place.textContent !== text) place.textContent = text;
}
