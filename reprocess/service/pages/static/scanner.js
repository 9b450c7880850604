// @ts-check
/**
 * One framed scan. A wedge scanner types fast keys and closes them with Enter, wherever the focus is. Keys are held for
 * a moment and judged as a whole: a scan never reaches a button, a link or a field, and what a person types is handed
 * on to the field that has the focus.
 */

/** Milliseconds between two keys of one scan at most (our choice: people type more slowly, scanners much faster). */
export const GAP_MS = 60;
/** Characters of one scan at most, as the server takes them. */
export const LONGEST = 256;
/** Fewer characters than this are typing, however fast (our choice: our shortest tag is longer). */
export const LEAST = 4;
/** Milliseconds within which the same code again is the scanner's echo, and is not sent. */
export const TWICE_MS = 2000;
/** Milliseconds after a piece that led nowhere in which a scan is taken for its rest, and refused (our choice). */
const BROKEN_MS = 500;
/** Milliseconds that a key may be late on its way through the browser (our choice). */
const LATE_MS = 20;
/** Group separator, which parts the fields of a GS1 element string (GS1 General Specifications, 7.8.3). */
export const GROUP_SEPARATOR = "\u001d";
/** Commands that mean something again at once: whoever scans them twice wants them twice. */
const COUNTED = /^C:(NEXT|REPEAT)(\.|$)/i;
/** Keys with Ctrl that stay the browser's: select all, copy, paste, cut, undo, reload; zoom has no letter. */
const LEFT_ALONE = new Set(["a", "c", "v", "x", "z", "r"]);
const SILENT = new Set(["Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "Dead", "Process"]);
/** @type {Record<string, string>} What keys without a character stand for when a scanner sends them. */
const CONTROLS = { Enter: "\r", Tab: "\t", Escape: "\u001b", Backspace: "\b", Delete: "\u007f" };

/** @typedef {"none" | "Enter" | "Tab"} Mark */
/**
 * @typedef {object} Settings How the scanner is set up.
 * @property {Mark} prefix the key before each code
 * @property {Mark} suffix the key after each code
 * @property {string[]} separators what stands for the group separator: `F8`, `Ctrl-]`, `|` or U+001D itself
 */
/** @typedef {"long" | "hidden" | "unfinished"} Fault */
/**
 * @typedef {object} Scan
 * @property {string} text what is sent; empty where it has a fault
 * @property {string} shown what a screen may show of it
 * @property {number} at when its last key came, on the clock of `performance.now`
 * @property {Fault | null} fault why it is refused here
 */
/** @typedef {{text: string, control: string}} Held One key that is held: what it types, and what it presses. */

/** @type {Settings} */
export const USUAL = { prefix: "none", suffix: "Enter", separators: ["F8", "Ctrl-]", "|", GROUP_SEPARATOR] };

/**
 * @param {string} text
 * @returns {string} The start of a text as a screen may show it: control characters as their pictures (Unicode block
 *     "Control Pictures"), other characters that are not seen or turn the line as U+FFFD; nothing of what may be a PIN.
 */
export function shown(text) {
  if (PERHAPS_A_PIN.test(text)) return "****";
  let told = "";
  for (const one of [...text.slice(0, LONGEST)].slice(0, 48)) {
    const code = one.codePointAt(0) ?? 0;
    if (code < 0x20) told += String.fromCodePoint(0x2400 + code);
    else if (code === 0x7f) told += "\u2421";
    else told += UNSEEN.test(one) ? "\ufffd" : one;
  }
  return text.length > LONGEST || [...text].length > 48 ? told + "\u2026" : told;
}

/** A PIN has eight digits at least; of one that is not finished, or lost a digit, nothing is shown either. */
const PERHAPS_A_PIN = /^\s*[0-9]{6,}\s*$/;
const UNSEEN = /[\p{C}\p{Zl}\p{Zp}]/u;

/**
 * @param {string} text
 * @param {number} at
 * @returns {Scan} A whole code, judged: what is too long or holds hidden characters is not sent.
 */
export function judged(text, at) {
  if (text.length > LONGEST) return { text: "", shown: shown(text), at, fault: "long" };
  if (UNSEEN.test(text.replaceAll(GROUP_SEPARATOR, ""))) return { text: "", shown: shown(text), at, fault: "hidden" };
  return { text, shown: shown(text), at, fault: null };
}

/** Tells the scanner's echo from a second scan. */
export class Echo {
  #text = "";
  #at = -Infinity;

  /**
   * @param {Scan} scan
   * @returns {boolean} Whether it is the one before, again and too soon.
   */
  isEcho(scan) {
    const again = scan.text === this.#text && scan.at - this.#at < TWICE_MS && !COUNTED.test(scan.text);
    this.#text = scan.text;
    if (!again) this.#at = scan.at;
    return again;
  }
}

/** Holds keys until it is known whether they are a scan, and then gives the scan or hands on what was typed. */
export class Frame {
  /** @type {Held[]} */
  #held = [];
  #text = "";
  #keys = 0;
  #began = -Infinity;
  #last = -Infinity;
  #strayed = -Infinity;
  #closed = -Infinity;
  #hidden = false;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  #timer;

  /**
   * @param {Settings} settings
   * @param {(scan: Scan) => void} take
   */
  constructor(settings, take) {
    this.settings = settings;
    this.take = take;
  }

  /** Begins to listen, before anything else on the page hears a key. */
  listen() {
    window.addEventListener("keydown", (event) => this.down(event), { capture: true });
    window.addEventListener("keyup", (event) => this.#up(event), { capture: true });
    window.addEventListener("paste", (event) => this.#paste(event), { capture: true });
    for (const name of ["dragover", "drop"]) window.addEventListener(name, stop, { capture: true });
  }

  /** @param {KeyboardEvent} event */
  down(event) {
    if (event.isComposing || SILENT.has(event.key)) return;
    if (this.#keys && (event.repeat || event.timeStamp - this.#last > GAP_MS)) this.#typed();
    if (event.repeat) return;
    if (event.key === "Enter" || event.key === "Tab") this.#mark(event, event.key);
    else this.#key(event);
  }

  /**
   * @param {KeyboardEvent} event
   * @param {"Enter" | "Tab"} key
   */
  #mark(event, key) {
    const { prefix, suffix } = this.settings;
    if (this.#keys === 0) {
      if (event.timeStamp - this.#closed <= GAP_MS) stop(event); // the second half of a carriage return and line feed
      else if (prefix === key) this.#hold(event, { text: "", control: key });
    } else if (this.#text.length < LEAST) {
      this.#typed();
    } else if (key === suffix || (suffix === "none" && key === "Enter")) {
      this.#closed = event.timeStamp;
      stop(event);
      this.#close(event.timeStamp);
    } else {
      this.#hold(event, { text: CONTROLS[key] ?? "", control: key });
    }
  }

  /** @param {KeyboardEvent} event */
  #key(event) {
    const text = this.#meant(event);
    if (text.length > 0 && (this.#keys > 0 || !hasControl(text))) {
      this.#hold(event, { text, control: event.key });
    } else if (this.#keys >= LEAST) {
      stop(event); // an arrow or function key amid a scan
      this.#hidden = true;
    } else if (event.ctrlKey && !event.altKey && /^[a-z]$/i.test(event.key) && !LEFT_ALONE.has(event.key.toLowerCase())) {
      stop(event); // a scanner that begins with a control character opens no window of the browser
    } else if (this.#keys > 0) {
      this.#typed();
    }
  }

  /**
   * @param {KeyboardEvent} event
   * @returns {string} The character that a key means, or nothing.
   */
  #meant(event) {
    const { separators } = this.settings;
    const pressed = event.ctrlKey && !event.altKey ? `Ctrl-${event.key}` : event.key;
    if (separators.includes(pressed) || event.key === GROUP_SEPARATOR) {
      return pressed.length > 1 && this.#keys === 0 ? "" : GROUP_SEPARATOR;
    }
    const graph = event.getModifierState("AltGraph");
    if (event.ctrlKey && !event.altKey && /^[a-z[\\\]^_]$/i.test(event.key)) {
      return String.fromCodePoint(event.key.toUpperCase().charCodeAt(0) - 0x40);
    }
    if (event.metaKey || ((event.ctrlKey || event.altKey) && !graph)) return "";
    return [...event.key].length === 1 ? event.key : (CONTROLS[event.key] ?? "");
  }

  /**
   * @param {KeyboardEvent} event
   * @param {Held} one
   */
  #hold(event, one) {
    stop(event);
    if (this.#keys === 0) this.#began = event.timeStamp;
    this.#last = event.timeStamp;
    this.#keys += 1;
    if (this.#text.length <= LONGEST) {
      this.#text += one.text;
      this.#held.push(one);
    }
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.#silence(), GAP_MS + LATE_MS);
  }

  /** Nothing came for a while: typing, a scanner that closes with nothing, or a scan without its end. */
  #silence() {
    if (this.#keys === 0) return;
    if (this.#text.length >= LEAST && this.settings.suffix === "none") this.#close(this.#last);
    else if (this.#text.length >= LEAST && !fieldWithFocus()) this.#give("unfinished", this.#last);
    else this.#typed();
  }

  /** @param {number} at */
  #close(at) {
    const scan = judged(this.#text, at);
    const rest = this.#began - this.#strayed < BROKEN_MS;
    if (rest) this.#give("unfinished", at);
    else if (this.#hidden && scan.fault === null) this.#give("hidden", at);
    else this.#give(scan.fault, at);
  }

  /**
   * @param {Fault | null} fault
   * @param {number} at
   */
  #give(fault, at) {
    const text = this.#text;
    this.#clear();
    if (fault === "unfinished") this.#strayed = at;
    this.take({ text: fault === null ? text : "", shown: shown(text), at, fault });
  }

  /** Hands on what a person typed. */
  #typed() {
    const held = this.#held;
    this.#strayed = this.#last;
    this.#clear();
    hand(held);
  }

  #clear() {
    clearTimeout(this.#timer);
    this.#held = [];
    this.#text = "";
    this.#keys = 0;
    this.#hidden = false;
  }

  /** @param {KeyboardEvent} event A button is pressed when the space bar comes up; while keys are held it is not. */
  #up(event) {
    if (this.#keys > 0 && (event.key === " " || event.key === "Enter")) stop(event);
  }

  /** @param {ClipboardEvent} event What is pasted outside a field, or is too long for one, is judged like a scan. */
  #paste(event) {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    const field = fieldWithFocus();
    if (field && field.name !== "code" && text.length <= LONGEST) return;
    stop(event);
    const scan = judged(text.length > LONGEST ? text : text.replace(/[\r\n]+$/, ""), event.timeStamp);
    if (scan.text || scan.fault) this.take(scan);
  }
}

/** @param {Event} event */
function stop(event) {
  event.preventDefault();
  event.stopImmediatePropagation();
}

/** @param {string} text */
function hasControl(text) {
  return text.length === 1 && text < " " && text !== GROUP_SEPARATOR;
}

/** @returns {HTMLInputElement | HTMLTextAreaElement | null} The field that takes text and has the focus. */
function fieldWithFocus() {
  const found = document.activeElement;
  if (found instanceof HTMLTextAreaElement) return found;
  return found instanceof HTMLInputElement && TEXT.has(found.type) ? found : null;
}

const TEXT = new Set(["text", "search", "password", "tel", "url", "email", "number", "date", "time", "datetime-local"]);

/** @param {Held[]} held */
function hand(held) {
  const field = fieldWithFocus();
  if (field) {
    const text = held.map((one) => one.text).filter((one) => !hasControl(one)).join("");
    // The one way that keeps the field's own length, its undo and its events; browsers go on to have it.
    if (text) document.execCommand("insertText", false, text);
    else if (held[0]?.control === "Enter") field.form?.requestSubmit();
    else if (held[0]?.control === "Tab") goOn(field);
  } else if (held.length === 1 && held[0]) {
    press(held[0].control);
  }
}

/** @param {string} key One key of a person on something that is no field: it presses, or goes on. */
function press(key) {
  const found = document.activeElement;
  if (!(found instanceof HTMLElement) || found === document.body) return;
  if (found instanceof HTMLSelectElement) choose(found, key);
  else if (key === " " && found.matches("button, summary, input")) found.click();
  else if (key === "Enter" && found.matches("a, button, summary")) found.click();
  else if (key === "Tab") goOn(found);
}

/**
 * @param {HTMLSelectElement} list
 * @param {string} key
 */
function choose(list, key) {
  const from = list.selectedIndex + 1;
  const options = [...list.options];
  const next = [...options.slice(from), ...options.slice(0, from)].find((one) =>
    one.label.trim().toLowerCase().startsWith(key.toLowerCase()),
  );
  if (!next || next.selected) return;
  next.selected = true;
  list.dispatchEvent(new Event("change", { bubbles: true }));
}

/** @param {HTMLElement} from */
function goOn(from) {
  const all = [...document.querySelectorAll("a[href], button, input, select, textarea, summary, [tabindex]")].filter(
    (one) => one instanceof HTMLElement && one.tabIndex >= 0 && !one.matches(":disabled, [hidden] *, [type=hidden]"),
  );
  const next = all[(all.indexOf(from) + 1) % all.length];
  if (next instanceof HTMLElement) next.focus();
}
