// @ts-check
/**
 * What is scanned while the server is away. Only facts are kept, each under a key of its own, until the server has
 * answered it: a fact makes nothing ready. All else is refused here; a paper form with the same codes takes it.
 */
import { judged, shown } from "./scanner.js";

/** Commands that say what happened, as the server has them (reprocess/service/scanning.py). */
export const FACTS = new Set(["HOLD", "FAIL", "TEST-FAIL", "DRIED-EARLY", "RE-WET", "LOAD-END"]);
const WITH_DEFECT = new Set(["FAIL", "TEST-FAIL"]);
/** Facts that one screen keeps at most (our choice: hours of work; then paper). */
export const KEPT_MOST = 200;
/** Codes of one fact at most, as the server takes them. */
const CODES_MOST = 100;
const DEFECT = "DEFECT-";
const NUMBER = /^[0-9.,\s]+$/;

/**
 * @typedef {object} Fact
 * @property {string} key the request's own key
 * @property {string} station
 * @property {string} strip who was signed in, as the screen said
 * @property {string} person the same, as the server names them; empty where the page did not say
 * @property {string[]} codes
 * @property {number} at milliseconds since 1970 by this screen's clock, for people to read
 * @property {number} order counts up within one page; facts of one millisecond keep their order by it
 * @property {number} seen the number of the latest entry that this screen had heard of
 * @property {boolean} maybe whether it was sent, and only its answer is missing
 */

/**
 * @param {string} text
 * @returns {{kind: string, name: string}} What a code seems to be: `C` with its command, `I`, `B`, or another letter.
 */
export function parted(text) {
  const [, kind = "I", name = ""] = /^(?:([A-Z]):)?([^.]*)/i.exec(text) ?? [];
  return { kind: kind.toUpperCase(), name: name.toUpperCase() };
}

/** @typedef {{sort: "kept", codes: string[]} | {sort: "waiting", wanted: "command" | "item" | "defect"} | {sort: "refused"}} Told */

/** Puts scans together while the server is away: items then a command, or a command and then items. */
export class Away {
  /** @type {string[]} */
  #codes = [];
  #batch = false;

  /** @param {string[]} pending what was scanned before, and has no command yet */
  constructor(pending = []) {
    this.#codes = [...pending];
  }

  /**
   * @param {string} code
   * @returns {Told} What comes of one more code: a whole fact, one that waits for more, or nothing.
   */
  take(code) {
    const { kind, name } = parted(code);
    const command = kind === "C" && !name.startsWith(DEFECT) ? name : null;
    if (NUMBER.test(code)) return this.#refuse(); // no fact has a number; it may be somebody's PIN
    if (command !== null) return this.#command(command, code);
    if (kind === "B" || kind === "S" || kind === "P" || kind === "F") return this.#refuse();
    if (this.#batch && this.#items().length) this.#codes = this.#codes.filter((one) => this.#stays(one, kind));
    if (this.#codes.length >= CODES_MOST) return this.#refuse();
    this.#codes.push(code);
    return this.#told();
  }

  /**
   * @param {string} command
   * @param {string} code
   * @returns {Told}
   */
  #command(command, code) {
    if (!FACTS.has(command)) return this.#refuse();
    if (this.#said() !== null) this.#codes = []; // a new command ends the one before
    this.#codes.push(code);
    this.#batch = this.#items().length === 0;
    return this.#told();
  }

  /**
   * @param {string} code of the fact before
   * @param {string} kind of the code that comes
   * @returns {boolean} Whether the next fact of a batch has it too: its command always, its defects until another comes.
   */
  #stays(code, kind) {
    return !isItem(code) && !(kind === "C" && isDefect(code));
  }

  /** @returns {Told} */
  #told() {
    const command = this.#said();
    if (command === null) return { sort: "waiting", wanted: "command" };
    if (WITH_DEFECT.has(command) && !this.#codes.some(isDefect)) return { sort: "waiting", wanted: "defect" };
    if (this.#items().length === 0) return { sort: "waiting", wanted: "item" };
    const codes = [...this.#codes];
    if (!this.#batch) this.#codes = [];
    return { sort: "kept", codes };
  }

  /** @returns {Told} */
  #refuse() {
    this.#codes = [];
    this.#batch = false;
    return { sort: "refused" };
  }

  /** @returns {string | null} */
  #said() {
    const found = this.#codes.map(parted).find((one) => one.kind === "C" && !one.name.startsWith(DEFECT));
    return found?.name ?? null;
  }

  #items() {
    return this.#codes.filter(isItem);
  }
}

/** @param {string} code */
function isItem(code) {
  return parted(code).kind === "I";
}

/** @param {string} code */
function isDefect(code) {
  const { kind, name } = parted(code);
  return kind === "C" && name.startsWith(DEFECT);
}

/** @returns {string} A key that was never given before: 128 bits of chance. */
export function newKey() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return `kept-${[...bytes].map((one) => one.toString(16).padStart(2, "0")).join("")}`;
}

/** The facts that one station's screen keeps, in this browser's storage: each for itself, so that two tabs agree. */
export class Store {
  #order = 0;

  /** @param {string} station */
  constructor(station) {
    this.station = station;
    this.prefix = `bench.kept.${station}.`;
  }

  /** @returns {Fact[]} Oldest first. */
  all() {
    const found = [];
    for (let number = 0; number < localStorage.length; number += 1) {
      const name = localStorage.key(number);
      if (!name?.startsWith(this.prefix)) continue;
      const fact = read(localStorage.getItem(name));
      if (fact) found.push(fact);
    }
    return found.sort((one, other) => one.at - other.at || one.order - other.order);
  }

  /**
   * @param {Omit<Fact, "station" | "at" | "order">} fact
   * @returns {boolean} Whether it is kept; a full or closed storage keeps nothing.
   */
  keep(fact) {
    if (this.all().length >= KEPT_MOST) return false;
    const whole = { ...fact, station: this.station, at: Date.now(), order: (this.#order += 1) };
    const text = JSON.stringify(whole);
    try {
      localStorage.setItem(this.prefix + fact.key, text);
    } catch {
      return false;
    }
    return localStorage.getItem(this.prefix + fact.key) === text;
  }

  /** @param {string} key the server has answered this one, and whoever had to has looked */
  forget(key) {
    localStorage.removeItem(this.prefix + key);
  }
}

/**
 * @param {string | null} text
 * @returns {Fact | null}
 */
function read(text) {
  try {
    const found = JSON.parse(text ?? "null");
    const whole = found && typeof found.key === "string" && Array.isArray(found.codes) && typeof found.at === "number";
    return whole ? found : null;
  } catch {
    return null;
  }
}

/**
 * @typedef {object} Sent What the server made of one fact.
 * @property {"recorded" | "look"} result
 * @property {boolean} asks whether it was not asked yet, and is only when somebody says so
 * @property {string} html the sentences, from our own server
 */

/** Sends what is kept, and shows what somebody must look at; one tab of a station at a time. */
export class Kept {
  /** @type {Map<string, Sent>} */
  #look = new Map();
  #recorded = 0;
  #answered = 0;
  #busy = false;

  /**
   * @param {Store} store
   * @param {HTMLElement} section where it is shown
   * @param {string} address takes kept facts
   * @param {DOMStringMap} words
   */
  constructor(store, section, address, words) {
    this.store = store;
    this.section = section;
    this.address = address;
    this.words = words;
    section.addEventListener("click", (event) => {
      const pressed = event.target instanceof Element ? event.target.closest("button[data-key]") : null;
      if (pressed instanceof HTMLElement && pressed.dataset.key) void this.confirm(pressed.dataset.key);
    });
    window.addEventListener("storage", () => this.show());
  }

  /** @returns {string | null} The key of what must be looked at first. */
  get first() {
    return this.store.all().find((one) => this.#look.has(one.key))?.key ?? null;
  }

  /** @returns {boolean} Whether something has no answer yet. */
  get waits() {
    return this.store.all().some((one) => !this.#look.has(one.key));
  }

  /**
   * Sends what has no answer yet, oldest first. It ends where the server is away again.
   * @returns {Promise<boolean>} Whether anything was answered.
   */
  async send() {
    if (this.#busy) return false;
    this.#busy = true;
    const before = this.#answered;
    try {
      if (navigator.locks) {
        await navigator.locks.request(`bench.kept.${this.store.station}`, { ifAvailable: true }, async (lock) => {
          if (lock) await this.#all();
        });
      } else await this.#all();
    } finally {
      this.#busy = false;
      this.show();
    }
    return this.#answered > before;
  }

  async #all() {
    for (const fact of this.store.all()) {
      if (this.#look.has(fact.key)) continue;
      if (!(await this.#one(fact, false))) return;
    }
  }

  /**
   * @param {Fact} fact
   * @param {boolean} confirmed
   * @returns {Promise<boolean>} Whether the server answered.
   */
  async #one(fact, confirmed) {
    const sent = await ask(this.address, fact, confirmed);
    if (sent === null) return false;
    this.#answered += 1;
    if (sent.result === "recorded") {
      this.store.forget(fact.key);
      this.#look.delete(fact.key);
      this.#recorded += 1;
    } else {
      this.#look.set(fact.key, sent);
    }
    this.show();
    return true;
  }

  /** @param {string} key somebody looked at it: it goes, or is sent now where it was not */
  async confirm(key) {
    const sent = this.#look.get(key);
    const fact = this.store.all().find((one) => one.key === key);
    if (sent?.asks && fact) {
      await this.#one(fact, true);
    } else {
      this.store.forget(key);
      this.#look.delete(key);
    }
    this.show();
  }

  /** Shows what is kept: first what must be looked at, one after the other, then what still waits. */
  show() {
    const facts = this.store.all();
    this.section.hidden = facts.length === 0 && this.#recorded === 0;
    const look = facts.filter((one) => this.#look.has(one.key));
    const wait = facts.filter((one) => !this.#look.has(one.key));
    const made = [];
    if (look.length) made.push(this.#title(this.words.look, look.length), list("look", look.map((one) => this.#looked(one))));
    if (wait.length) made.push(this.#title(this.words.waiting, wait.length), list("wait", wait.map((one) => this.#waits(one))));
    if (!facts.length && this.#recorded) made.push(this.#title(this.words.sent, this.#recorded));
    const focused = this.section.contains(document.activeElement);
    this.#put(look.length > 0);
    this.section.replaceChildren(...made);
    if (focused) this.section.querySelector("button")?.focus();
  }

  /** @param {boolean} first whether it stands above all else: what must be looked at does */
  #put(first) {
    const main = this.section.closest("main");
    const form = document.getElementById("scan");
    if (first && main?.firstElementChild !== this.section) main?.prepend(this.section);
    else if (!first && form?.previousElementSibling !== this.section) form?.before(this.section);
  }

  /** What was recorded is old news. */
  settle() {
    if (this.#recorded === 0) return;
    this.#recorded = 0;
    this.show();
  }

  /**
   * @param {string | undefined} text
   * @param {number} count
   */
  #title(text, count) {
    const made = document.createElement("h2");
    made.textContent = (text ?? "").replace("{number}", String(count));
    return made;
  }

  /** @param {Fact} fact */
  #waits(fact) {
    const made = document.createElement("li");
    made.append(time(fact), " ", codes(fact));
    return made;
  }

  /** @param {Fact} fact */
  #looked(fact) {
    const made = this.#waits(fact);
    const sent = this.#look.get(fact.key);
    const told = new DOMParser().parseFromString(sent?.html ?? "", "text/html");
    const button = document.createElement("button");
    button.type = "button";
    button.id = `look-${fact.key}`;
    button.dataset.key = fact.key;
    button.textContent = (sent?.asks ? this.words.sendNow : this.words.looked) ?? "";
    made.append(...told.body.childNodes, button);
    return made;
  }
}

/** @param {Fact} fact */
function time(fact) {
  const made = document.createElement("time");
  const at = new Date(fact.at);
  made.dateTime = at.toISOString();
  made.textContent = [at.getHours(), at.getMinutes(), at.getSeconds()].map((one) => String(one).padStart(2, "0")).join(":");
  return made;
}

/** @param {Fact} fact */
function codes(fact) {
  const made = document.createElement("bdi");
  made.textContent = fact.codes.map((one) => shown(one)).join(" ");
  return made;
}

/**
 * @param {string} look
 * @param {HTMLElement[]} parts
 */
function list(look, parts) {
  const made = document.createElement("ol");
  made.className = look;
  made.append(...parts);
  return made;
}

/** Milliseconds that the server has for an answer. */
export const ANSWER_MS = 5000;

/**
 * @param {string} address
 * @param {Fact} fact
 * @param {boolean} confirmed
 * @returns {Promise<Sent | null>} None where no answer came.
 */
async function ask(address, fact, confirmed) {
  const body = new URLSearchParams({ key: fact.key, kept_at: new Date(fact.at).toISOString(), seen: String(fact.seen) });
  for (const code of fact.codes) if (judged(code, 0).fault === null) body.append("code", code);
  if (fact.person) body.set("person", fact.person);
  if (fact.maybe) body.set("maybe", "1");
  if (confirmed) body.set("confirmed", "1");
  try {
    const headers = { "X-Fragment": "1" };
    const signal = AbortSignal.timeout(ANSWER_MS);
    const answer = await fetch(address, { method: "POST", body, headers, signal, cache: "no-store" });
    const html = await answer.text();
    const made = new DOMParser().parseFromString(html, "text/html").querySelector("[data-result]");
    if (!(made instanceof HTMLElement)) return null;
    const result = made.dataset.result === "recorded" ? "recorded" : "look";
    return { result, asks: made.dataset.asks === "1", html: made.outerHTML };
  } catch {
    return null;
  }
}
