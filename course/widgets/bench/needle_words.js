// What a needle does, in the words of somebody who looks at it: between which lines it stands and how it moves; never
// a finer number than its scale shows, and never why.

/**
 * @typedef {{ at_ms: number, value: number }} Look
 */

const WATCHED_MS = 3000;
const MOVES_FROM = 0.75; // of the way from one line to the next: less is a tremble
const ON_A_LINE = 0.15;
const HALFWAY = 0.1;

export class SeenNeedle {
  /** @type {Look[]} */
  looks = [];

  /**
   * @param {number} at_ms
   * @param {number} value
   */
  look(at_ms, value) {
    this.looks.push({ at_ms, value });
    while (this.looks[0].at_ms < at_ms - WATCHED_MS) this.looks.shift();
  }

  forget() {
    this.looks = [];
  }

  // The words, where `line` is the distance between two lines that are told apart, in a unit.
  /**
   * @param {number} line
   * @param {string} unit
   */
  words(line, unit) {
    const values = this.looks.map((look) => look.value);
    const { place, moves } = movement(values, line);
    const words = `${placeInWords(place, line)} ${unit}`;
    if (!moves) return words;
    if (moves === "rises" || moves === "falls") return `${words}, and ${moves}`;
    const size = distance(rangeOf(values) / line, line);
    return `${words}; ${moves} by ${size}${this.howOften(values, place)}`;
  }

  /**
   * @param {number[]} values
   * @param {number} place
   */
  howOften(values, place) {
    const far = values.reduce((a, b) => (Math.abs(b - place) > Math.abs(a - place) ? b : a));
    const away = values.map((value) => (value - place) / (far - place) > 0.5);
    const times = away.filter((one, index) => one && !away[index - 1]).length;
    const seconds = (this.looks[this.looks.length - 1].at_ms - this.looks[0].at_ms) / 1000;
    const rate = times / Math.max(seconds, 0.5);
    if (rate > 3.5) return ", quickly";
    if (rate < 0.6) return " now and then";
    return ` about ${["", "once", "twice", "three times"][Math.max(Math.round(rate), 1)] ?? "three times"} a second`;
  }
}

// Where the needle mostly stands and how it moves: "" where it is still, "rises", "falls", "drops", "jumps" or "swings".
/**
 * @param {number[]} values
 * @param {number} line
 */
export function movement(values, line) {
  const sorted = [...values].sort((a, b) => a - b);
  const place = sorted[Math.floor(sorted.length / 2)];
  const range = rangeOf(values);
  if (range < MOVES_FROM * line) return { place, moves: "" };
  const third = Math.max(Math.floor(values.length / 3), 1);
  const gone = mean(values.slice(-third)) - mean(values.slice(0, third));
  if (Math.abs(gone) > 0.6 * range)
    return { place: values[values.length - 1], moves: gone > 0 ? "rises" : "falls" };
  const down = place - sorted[0];
  const up = sorted[sorted.length - 1] - place;
  return { place, moves: down > 3 * up ? "drops" : up > 3 * down ? "jumps up" : "swings" };
}

// "between 17 and 18, nearer 18", "at 18", "halfway between 17 and 18".
/**
 * @param {number} value
 * @param {number} line
 */
export function placeInWords(value, line) {
  const below = Math.floor(value / line) * line;
  const above = below + line;
  const share = (value - below) / line;
  if (share < ON_A_LINE) return `at ${below}`;
  if (share > 1 - ON_A_LINE) return `at ${above}`;
  if (Math.abs(share - 0.5) < HALFWAY) return `halfway between ${below} and ${above}`;
  return `between ${below} and ${above}, nearer ${share < 0.5 ? below : above}`;
}

// How far it moves: in halves where lines are one apart ("1½"), else in whole lines ("50").
/**
 * @param {number} lines
 * @param {number} line
 */
function distance(lines, line) {
  if (line !== 1) return String(Math.max(Math.round(lines), 1) * line);
  const halves = Math.round(2 * lines);
  return `${Math.floor(halves / 2)}${halves % 2 ? "½" : ""}`;
}

/** @param {number[]} values */
function mean(values) {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** @param {number[]} values */
function rangeOf(values) {
  return values.reduce((a, b) => Math.max(a, b)) - values.reduce((a, b) => Math.min(a, b));
}
