// A round gauge: a scale over 270 degrees, a needle that eases towards what the engine last said, a chalk mark.
// The browser's own transition eases the needle (none where the learner wants no motion): the page does nothing
// between two readings, and a slow machine keeps its time for the engine.

import { drawing, element, setAttribute, setText } from "../shared/elements.js";

const FIRST_ANGLE = -135;
const SWEEP = 270;
const SPOKEN_EVERY_MS = 500;

export class Dial {
  // `name` is what the dial measures, `tone` the colour role of its needle ("speed" or "vacuum").
  /**
   * @param {string} name
   * @param {"speed" | "vacuum"} tone
   */
  constructor(name, tone) {
    /** @type {number | null} */
    this.chalk = null;
    this.top = 0;
    this.major = 0;
    this.spokenAt = -Infinity;
    this.ticks = drawing("g");
    // A picture of its own above the face: moving it then costs the page no layout and no repainting.
    this.needle = drawing(
      "svg",
      { class: "eb-needle", viewBox: "-100 -100 200 200", "aria-hidden": "true", focusable: "false" },
      drawing("path", { d: "M -2.2 16 L -0.7 -74 L 0.7 -74 L 2.2 16 Z" }),
      drawing("circle", { r: 7 }),
    );
    this.mark = drawing("path", { class: "eb-chalk", d: "M 0 -78 L -5 -89 L 5 -89 Z", visibility: "hidden" });
    this.value = element("span", { class: "eb-dial-value" });
    this.note = element("span", { class: "eb-dial-note" });
    const face = drawing(
      "svg",
      { class: "eb-face", viewBox: "-100 -100 200 178", "aria-hidden": "true", focusable: "false" },
      drawing("path", { class: "eb-dial-arc", d: arc(84) }),
      this.ticks,
      this.mark,
    );
    this.meter = element("div", { role: "meter", "aria-label": name, "aria-valuemin": 0 }, face, this.needle);
    this.root = element(
      "div",
      { class: `eb-dial eb-${tone}` },
      element("div", { class: "eb-dial-name", "aria-hidden": "true" }, name),
      this.meter,
      element("div", { class: "eb-dial-reading", "aria-hidden": "true" }, this.value, this.note),
    );
  }

  // Draw the scale from 0 to `top`, with a number at every `major` and a tick at every `minor`.
  /**
   * @param {number} top
   * @param {number} major
   * @param {number} minor
   */
  setScale(top, major, minor) {
    if (this.top === top && this.major === major) return;
    Object.assign(this, { top, major });
    this.ticks.replaceChildren();
    for (let step = 0; step * minor <= top + 1e-9; step += 1) {
      const value = step * minor;
      const numbered = Math.abs(value / major - Math.round(value / major)) < 1e-9;
      const turn = `rotate(${this.angle(value)})`;
      this.ticks.append(
        drawing("line", {
          class: numbered ? "eb-tick-major" : "eb-tick",
          y1: -84,
          y2: numbered ? -73 : -79,
          transform: turn,
        }),
      );
      if (numbered) this.ticks.append(this.number(value));
    }
    setAttribute(this.meter, "aria-valuemax", top);
    this.placeChalk();
  }

  /** @param {number} value */
  number(value) {
    const turn = (this.angle(value) * Math.PI) / 180;
    const side = Math.sin(turn);
    const anchor = side < -0.35 ? "start" : side > 0.35 ? "end" : "middle"; // long numbers grow inwards, off the ticks
    return drawing(
      "text",
      { x: 68 * side, y: -62 * Math.cos(turn), "text-anchor": anchor },
      String(Math.round(value)),
    );
  }

  /** @param {number} value */
  angle(value) {
    return dialAngle(value, this.top);
  }

  // What the gauge should show, as a number on its scale (null: not connected), in words, and a note under it.
  /**
   * @param {number | null} target
   * @param {string} words
   */
  set(target, words, note = "") {
    this.needle.style.transform = `rotate(${this.angle(target ?? 0).toFixed(2)}deg)`;
    setText(this.value, words);
    setText(this.note, note);
    this.root.classList.toggle("eb-unhooked", target === null);
    const now = performance.now();
    if (now - this.spokenAt > SPOKEN_EVERY_MS) {
      this.spokenAt = now;
      setAttribute(this.meter, "aria-valuenow", Math.min(Math.max(target ?? 0, 0), this.top).toFixed(1));
      setAttribute(this.meter, "aria-valuetext", note ? `${words}, ${note}` : words);
    }
  }

  /** @param {number | null} value */
  setChalk(value) {
    this.chalk = value;
    this.placeChalk();
  }

  placeChalk() {
    setAttribute(this.mark, "visibility", this.chalk === null ? "hidden" : "visible");
    if (this.chalk !== null) setAttribute(this.mark, "transform", `rotate(${this.angle(this.chalk)})`);
  }
}

// Where a needle points [degrees clockwise of straight up] on a scale from 0 to `top`; a little past the end at most.
/**
 * @param {number} value
 * @param {number} top
 */
export function dialAngle(value, top) {
  return FIRST_ANGLE + (SWEEP * Math.min(Math.max(value, 0), top * 1.02)) / top;
}

/** @param {number} radius */
function arc(radius) {
  const point = (/** @type {number} */ degrees) => {
    const turn = (degrees * Math.PI) / 180;
    return `${(radius * Math.sin(turn)).toFixed(2)} ${(-radius * Math.cos(turn)).toFixed(2)}`;
  };
  return `M ${point(FIRST_ANGLE)} A ${radius} ${radius} 0 1 1 ${point(FIRST_ANGLE + SWEEP)}`;
}
