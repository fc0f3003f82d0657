// What was done at the engine, line by line with its time, for a person to read.

import { HANDS_OFF, element } from "./elements.js";

/** @typedef {[time_s: number, text: string]} Line */

export class WrittenRecord {
  constructor() {
    /** @type {Line[]} */
    this.drawn = [];
    this.list = element("ol", {
      class: "eb-record",
      tabindex: 0,
      "aria-label": "What was done, latest last",
      ...HANDS_OFF,
    });
    this.root = element(
      "div",
      { class: "eb-written" },
      element("div", { class: "eb-label" }, "Written record"),
      this.list,
    );
  }

  // Only what is new is drawn: a long record must not slow the needle down.
  /** @param {Line[]} lines */
  show(lines) {
    const goesOn = this.drawn.every(
      ([time_s, text], index) => lines[index]?.[0] === time_s && lines[index][1] === text,
    );
    if (!goesOn) this.list.replaceChildren();
    const added = lines
      .slice(goesOn ? this.drawn.length : 0)
      .map(([time_s, text]) =>
        element(
          "li",
          {},
          element("span", { class: "eb-when" }, minutesAndSeconds(time_s)),
          element("span", {}, text),
        ),
      );
    this.drawn = lines;
    this.list.append(...added);
    this.list.scrollTop = this.list.scrollHeight;
  }
}

/** @param {number} time_s */
export function minutesAndSeconds(time_s) {
  const seconds = Math.floor(time_s);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}
