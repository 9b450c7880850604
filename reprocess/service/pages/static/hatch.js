// @ts-check
/**
 * The hatch with a scanner: a scan goes into the field that waits for one, never onto a button. The page of the first
 * scan goes on by itself; everywhere else the next field waits, and a person presses the button.
 */
import "./watch.js";
import { Frame, USUAL } from "./scanner.js";

/** @typedef {import("./scanner.js").Scan} Scan */

/** @returns {HTMLInputElement[]} The fields that take a scan, in their order. */
function fields() {
  return [...document.querySelectorAll("input[data-scan]")].filter((one) => one instanceof HTMLInputElement);
}

/**
 * @param {string} text a code as it was scanned
 * @returns {HTMLInputElement | undefined} Of the fields that take such a code the one with the focus, else the first
 *     empty one, else the first that takes many: a badge is never put where a place stands, whatever has the focus.
 */
function waiting(text) {
  const kind = /^([A-Z]):/i.exec(text)?.[1]?.toUpperCase() ?? "";
  const found = fields().filter((one) => !kind || !one.dataset.scan || one.dataset.scan.includes(kind));
  return found.find((one) => one === document.activeElement) ?? found.find((one) => !one.value)
    ?? found.find((one) => one.dataset.many !== undefined);
}

/**
 * @param {string} text a code as it was scanned, such as `I:BLW-0041.W`
 * @returns {HTMLInputElement | undefined} The box that stands for the item of that tag.
 */
function boxOf(text) {
  const id = text.trim().toUpperCase().replace(/^I:/, "").replace(/\.[0-9A-Z]$/, "");
  const boxes = [...document.querySelectorAll("input[data-tag]")];
  return /** @type {HTMLInputElement | undefined} */ (
    boxes.find((one) => one instanceof HTMLInputElement && one.dataset.tag === id)
  );
}

/** @param {Scan} scan */
function take(scan) {
  if (scan.fault !== null) return;
  const box = boxOf(scan.text);
  if (box) {
    box.checked = true;
    box.focus();
    return;
  }
  const field = waiting(scan.text);
  if (!field) return;
  const kept = field.dataset.many !== undefined && field.value ? `${field.value} ` : "";
  field.value = kept + scan.text;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  if (field.name === "code") field.form?.requestSubmit();
  else next(field);
}

/** @param {HTMLInputElement} from */
function next(from) {
  const all = fields();
  (all[all.indexOf(from) + 1] ?? from).focus();
}

new Frame(USUAL, take).listen();
if (fields()[0]?.name === "code") fields()[0]?.focus();
document.body.classList.add("scripted");
