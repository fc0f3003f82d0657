// The engine's nameplate and the day: what stands on the engine, the air outside, the fuel in the tank.

import { element } from "../shared/elements.js";
import { METRES_PER_FOOT } from "../shared/generated_units.js";
import { fahrenheit } from "../shared/units.js";

/**
 * @import { Pair } from "../types.d.ts"
 *
 * @typedef {"altitude_ft" | "ambient_c" | "humidity_percent" | "octane_ron" | "octane_mon"} Condition
 * @typedef {Partial<Record<Condition, number>>} Day
 */

export class Nameplate {
  // `lines` are pairs of name and words; the one that says no more than the bench's `title` is left out.
  /**
   * @param {Pair[]} lines
   * @param {string} title
   */
  constructor(lines, title = "") {
    this.lines = lines;
    this.title = title;
    /** @type {Day} */
    this.day = {};
    this.root = element("dl", { class: "eb-plate" });
  }

  // Another engine stands here.
  /** @param {Pair[]} lines */
  describe(lines) {
    this.lines = lines;
    this.draw();
  }

  /** @param {Day} day */
  show(day) {
    this.day = day;
    this.draw();
  }

  draw() {
    const lines = this.lines.filter(([, words]) => words !== this.title);
    const pairs = [...lines, ...dayInWords(this.day)];
    this.root.hidden = !pairs.length;
    this.root.replaceChildren(
      ...pairs.map(([name, value]) => element("div", {}, element("dt", {}, name), element("dd", {}, value))),
    );
  }
}

// Only what the bench was told, in both systems of units.
/** @param {Day} day */
export function dayInWords(day) {
  /** @type {Pair[]} */
  const pairs = [];
  /** @type {(key: Condition, name: string, words: (value: number) => string) => void} */
  const add = (key, name, words) => {
    const value = day[key];
    if (value !== undefined) pairs.push([name, words(value)]);
  };
  add(
    "altitude_ft",
    "Altitude",
    (feet) => `${feet.toFixed(0)} ft (${(feet * METRES_PER_FOOT).toFixed(0)} m)`,
  );
  add("ambient_c", "Air", (celsius) => `${fahrenheit(celsius).toFixed(0)} °F (${celsius.toFixed(0)} °C)`);
  add("humidity_percent", "Humidity of the air", (percent) => `${percent.toFixed(0)} %`);
  const motor = day.octane_mon === undefined ? "" : `, ${day.octane_mon.toFixed(0)} MON`;
  add("octane_ron", "Fuel in the tank", (research) => `${research.toFixed(0)} RON${motor}`);
  return pairs;
}
