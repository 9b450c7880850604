// @ts-check
/**
 * How large a millimetre is on this screen. A browser's own millimetre is not a real one: it counts 96 pixels an inch
 * whatever the glass. Somebody measures a bar once, and this screen keeps what came of it.
 */

/** Under this name a screen keeps its CSS pixels for one millimetre. */
export const KEPT = "bench.pixels-per-mm";
/** CSS pixels for one millimetre where nobody measured: a 24-inch screen of 16 to 9, 531.3 mm wide, of 1920 pixels. */
export const USUAL = 1920 / 531.3;
/** What a measured bar can come to: from a wall screen to a small tablet. */
export const LEAST = 1;
export const MOST = 12;

/** @returns {number} CSS pixels for one millimetre on this screen. */
export function pixelsPerMm() {
  const kept = Number(localStorage.getItem(KEPT));
  return kept >= LEAST && kept <= MOST ? kept : USUAL;
}

/**
 * @param {number} pixels the length of the bar
 * @param {number} mm what somebody measured
 * @returns {number | null} CSS pixels for one millimetre; none where that cannot be.
 */
export function measured(pixels, mm) {
  const found = pixels / mm;
  return Number.isFinite(found) && found >= LEAST && found <= MOST ? found : null;
}

/** Widest that a clock's five characters may be, in sizes of their letters, so that three clocks stand in a row. */
const WIDE_MOST = 2.5;

/** Gives the page's style the size of a real millimetre, and how tall and wide the digits of its letters are. */
export function useMeasure() {
  const root = document.documentElement;
  const { tall, wide } = digitsOf(getComputedStyle(document.body).fontFamily);
  root.style.setProperty("--mm", `${pixelsPerMm()}px`);
  root.style.setProperty("--digit", String(tall));
  root.style.setProperty("--squeeze", String(Math.min(1, WIDE_MOST / wide)));
}

/**
 * @param {string} family
 * @returns {{tall: number, wide: number}} The height of a digit, and the width of a clock's face, as shares of the size
 *     of the letters; usual ones where they cannot be measured.
 */
function digitsOf(family) {
  const pen = document.createElement("canvas").getContext("2d");
  if (!pen) return { tall: 0.7, wide: WIDE_MOST };
  pen.font = `700 1000px ${family}`;
  const tall = pen.measureText("7").actualBoundingBoxAscent / 1000;
  const wide = pen.measureText("00:00").width / 1000;
  return { tall: tall > 0.5 && tall < 1 ? tall : 0.7, wide: wide > 1 ? wide : WIDE_MOST };
}
