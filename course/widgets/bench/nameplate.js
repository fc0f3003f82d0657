// The engine's nameplate and the day: what stands on the engine, the air outside, the fuel in the tank.

import { element } from "../shared/elements.js";
import { METRES_PER_FOOT } from "../shared/generated_units.js";
import { fahrenheit } from "../shared/units.js";

export class Nameplate {
  // `lines` are pairs of name and words.
  constructor(lines) {
    this.lines = lines;
    this.root = element("dl", { class: "eb-plate" });
  }

  show(day) {
    const pairs = [...this.lines, ...dayInWords(day)];
    this.root.hidden = !pairs.length;
    this.root.replaceChildren(
      ...pairs.map(([name, value]) => element("div", {}, element("dt", {}, name), element("dd", {}, value))),
    );
  }
}

// Only what the bench was told, in both systems of units.
export function dayInWords(day) {
  const pairs = [];
  const add = (key, name, words) => {
    if (day[key] !== undefined) pairs.push([name, words(day[key])]);
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
