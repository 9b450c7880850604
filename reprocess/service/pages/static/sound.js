// @ts-check
/**
 * What the bench sounds like: patterns of our own between 500 and 3000 Hz, where ears and small loudspeakers hear well
 * above a washer. Each differs from the others by its rhythm, not by its pitch alone.
 */

/** @typedef {"accepted" | "refused" | "held" | "tick" | "wet"} Name */
/** @typedef {{hz: number, to: number, from_ms: number, lasts_ms: number, level: number}} Tone */

/** @type {Record<Name, Tone[]>} Rising; two low ones; a two-tone alarm; one soft tick; three drops that fall. */
export const PATTERNS = {
  accepted: [{ hz: 700, to: 1400, from_ms: 0, lasts_ms: 180, level: 0.5 }],
  refused: [
    { hz: 540, to: 540, from_ms: 0, lasts_ms: 160, level: 0.7 },
    { hz: 500, to: 500, from_ms: 220, lasts_ms: 240, level: 0.7 },
  ],
  held: [0, 1, 2, 3, 4, 5].map((one) => ({
    hz: one % 2 ? 1900 : 2800, to: one % 2 ? 1900 : 2800, from_ms: one * 140, lasts_ms: 130, level: 1,
  })),
  tick: [{ hz: 1000, to: 1000, from_ms: 0, lasts_ms: 15, level: 0.2 }],
  wet: [0, 1, 2].map((one) => ({ hz: 2000, to: 1500, from_ms: one * 300, lasts_ms: 90, level: 0.8 })),
};

/** Loudness of a quiet screen against a usual one (our choice; a ward at night). */
export const QUIET_LEVEL = 0.12;
/** Under this name a screen keeps that it is quiet. */
export const QUIET = "bench.quiet";
/** Milliseconds after which a cue that nobody answered sounds again (common practice, no source). */
export const AGAIN_MS = 30_000;
const SOFT_S = 0.008;

/** @type {AudioContext | null} */
let audio = null;
/** @type {Name[]} What was played, latest last: for tests, and for whoever asks why it was silent. */
export const played = [];
const PLAYED_MOST = 50;

/** @returns {boolean} Whether this screen is quiet. */
export function isQuiet() {
  return localStorage.getItem(QUIET) === "yes";
}

/** @param {boolean} wanted */
export function setQuiet(wanted) {
  localStorage.setItem(QUIET, wanted ? "yes" : "no");
}

/** Opens the loudspeaker: a browser lets a page sound only after somebody touched it, or pressed a key. */
export function wake() {
  if (audio === null && typeof AudioContext !== "undefined") audio = new AudioContext();
  if (audio?.state === "suspended") void audio.resume().catch(() => undefined);
}

/** @param {Name} name */
export function play(name) {
  played.push(name);
  if (played.length > PLAYED_MOST) played.shift();
  if (audio === null) return;
  const loud = isQuiet() ? QUIET_LEVEL : 1;
  for (const tone of PATTERNS[name]) sound(audio, tone, loud);
}

/**
 * @param {AudioContext} through
 * @param {Tone} tone
 * @param {number} loud
 */
function sound(through, tone, loud) {
  const from = through.currentTime + tone.from_ms / 1000;
  const until = from + tone.lasts_ms / 1000;
  const source = new OscillatorNode(through, { type: "triangle", frequency: tone.hz });
  const level = new GainNode(through, { gain: 0 });
  source.frequency.setValueAtTime(tone.hz, from);
  source.frequency.linearRampToValueAtTime(tone.to, until);
  level.gain.setValueAtTime(0, from);
  level.gain.linearRampToValueAtTime(tone.level * loud, from + Math.min(SOFT_S, tone.lasts_ms / 3000));
  level.gain.setValueAtTime(tone.level * loud, Math.max(from, until - SOFT_S));
  level.gain.linearRampToValueAtTime(0, until);
  source.connect(level).connect(through.destination);
  source.start(from);
  source.stop(until);
}
