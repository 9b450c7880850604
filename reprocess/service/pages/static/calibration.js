// @ts-check
/** The page of measures: a bar is measured with a ruler, the scanner's marks are chosen, and this screen keeps both. */
import { KEPT, measured, pixelsPerMm, useMeasure } from "./measure.js";
import { isQuiet, play, setQuiet, wake } from "./sound.js";

const bar = document.getElementById("bar");
const length = /** @type {HTMLInputElement} */ (document.getElementById("length"));
const told = document.getElementById("told");
const quiet = /** @type {HTMLInputElement} */ (document.getElementById("quiet"));
const SCANNER = "bench.scanner";

document.getElementById("measure")?.addEventListener("submit", (event) => {
  event.preventDefault();
  const found = measured(bar?.getBoundingClientRect().width ?? 0, Number(length.value.replace(",", ".")));
  if (found !== null) localStorage.setItem(KEPT, String(found));
  tell(found === null ? "impossible" : "kept");
  useMeasure();
});

/** @param {"kept" | "impossible"} word */
function tell(word) {
  if (told) told.textContent = told.dataset[word] ?? "";
}

const scanner = /** @type {HTMLFormElement} */ (document.getElementById("scanner"));
const kept = JSON.parse(localStorage.getItem(SCANNER) ?? "{}");
for (const name of ["prefix", "suffix"]) {
  const list = scanner.elements.namedItem(name);
  if (list instanceof HTMLSelectElement && typeof kept[name] === "string") list.value = kept[name];
}
scanner.addEventListener("change", () => {
  const chosen = new FormData(scanner);
  localStorage.setItem(SCANNER, JSON.stringify({ prefix: chosen.get("prefix"), suffix: chosen.get("suffix") }));
});

quiet.checked = isQuiet();
quiet.addEventListener("change", () => {
  wake();
  setQuiet(quiet.checked);
  play("accepted");
});

length.value = ((bar?.getBoundingClientRect().width ?? 0) / pixelsPerMm()).toFixed(0);
useMeasure();
