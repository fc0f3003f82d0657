// A round gauge: a printed scale over 270 degrees, a needle that eases towards what the engine
// last said, a chalk mark on the glass. It has no digits: what the needle shows is read off the scale, and a screen
// reader hears where it stands between the lines.
// The browser's own transition eases the needle (none where the learner wants no motion): the page does nothing
// between two readings, and a slow machine keeps its time for the engine.

import { drawing, element, setAttribute, setText } from "../shared/elements.js";
import { SeenNeedle, placeInWords } from "./needle_words.js";

/** @import { Scale } from "../shared/units.js" */

const FIRST_ANGLE = -135;
const SWEEP = 270;
const SPOKEN_EVERY_MS = 500;
const PRINTED_AT = 80; // radius of the printed scale; the face has 100

export class Dial {
  // `name` is what the dial is, `face` what is printed on it, `tone` the colour role of its needle.
  /**
   * @param {string} name
   * @param {string} face
   * @param {"speed" | "vacuum"} tone
   */
  constructor(name, face, tone) {
    /** @type {number | null} */
    this.chalk = null;
    /** @type {Scale | null} */
    this.scale = null;
    /** @type {number | null} */
    this.target = null;
    this.seen = new SeenNeedle();
    this.absent = "";
    this.said = "";
    this.spokenAt = -Infinity;
    this.speaks = false;
    this.ticks = drawing("g");
    this.unit = drawing("text", { class: "eb-dial-unit", y: 73.5, "text-anchor": "middle" });
    // A picture of its own above the face: moving it then costs the page no layout and no repainting.
    this.needle = drawing(
      "svg",
      { class: "eb-needle", viewBox: "-100 -100 200 200", "aria-hidden": "true", focusable: "false" },
      drawing("path", {
        class: "eb-needle-shade",
        d: "M -3.4 0 L -0.4 -75 L 1.8 -75 L 4.6 0 L 4 24 L -2.4 24 Z",
      }),
      drawing("path", { d: "M -3 0 L -0.9 -77 L 0.9 -77 L 3 0 L 2.2 17 L 5 28 L -5 28 L -2.2 17 Z" }),
      drawing("circle", { class: "eb-hub", r: 9 }),
      drawing("circle", { class: "eb-hub-cap", r: 3.4 }),
    );
    this.mark = drawing("path", { class: "eb-chalk", d: "M 0 -79 L -5 -90 L 5 -90 Z", visibility: "hidden" });
    this.note = element("span", { class: "eb-dial-note", "aria-hidden": "true" });
    const picture = drawing(
      "svg",
      { class: "eb-face", viewBox: "-100 -100 200 200", "aria-hidden": "true", focusable: "false" },
      drawing("circle", { class: "eb-bezel", r: 98 }),
      drawing("circle", { class: "eb-plate-of-dial", r: 91 }),
      drawing("path", { class: "eb-dial-arc", d: arc(PRINTED_AT) }),
      this.ticks,
      drawing("text", { class: "eb-dial-face", y: 58, "text-anchor": "middle" }, face),
      this.unit,
      this.mark,
    );
    this.meter = element(
      "div",
      { role: "meter", "aria-label": name, "aria-valuemin": 0 },
      picture,
      this.needle,
    );
    this.root = element("div", { class: `eb-dial eb-${tone}` }, this.meter, this.note);
  }

  // Print the scale: a line at every `minor`, a longer one at every `middle`, the longest with a number at every `major`.
  /** @param {Scale} scale */
  setScale(scale) {
    if (this.scale?.name === scale.name && this.scale.top === scale.top) return;
    this.scale = scale;
    this.seen.forget();
    const lines = { minor: "", middle: "", major: "" };
    const numbers = [];
    for (let step = 0; step * scale.minor <= scale.top + 1e-9; step += 1) {
      const value = step * scale.minor;
      const size = falls(value, scale.major) ? "major" : falls(value, scale.middle) ? "middle" : "minor";
      lines[size] += this.line(value, { minor: 5, middle: 8.5, major: 13 }[size]);
      if (size === "major") numbers.push(this.number(value));
    }
    this.ticks.replaceChildren(
      drawing("path", { class: "eb-tick", d: lines.minor }),
      drawing("path", { class: "eb-tick eb-tick-middle", d: lines.middle }),
      drawing("path", { class: "eb-tick-major", d: lines.major }),
      ...numbers,
    );
    setText(this.unit, scale.name);
    setAttribute(this.meter, "aria-valuemax", scale.top);
    this.placeChalk();
  }

  /**
   * @param {number} value
   * @param {number} length
   */
  line(value, length) {
    const [across, down] = direction(this.angle(value));
    const end = PRINTED_AT - length;
    return `M ${(PRINTED_AT * across).toFixed(2)} ${(PRINTED_AT * down).toFixed(2)} L ${(end * across).toFixed(2)} ${(end * down).toFixed(2)} `;
  }

  /** @param {number} value */
  number(value) {
    const [across, down] = direction(this.angle(value));
    const anchor = across < -0.35 ? "start" : across > 0.35 ? "end" : "middle"; // long numbers grow inwards, off the lines
    return drawing(
      "text",
      { x: 64 * across, y: 57 * down, "text-anchor": anchor },
      String(Math.round(value)),
    );
  }

  /** @param {number} value */
  angle(value) {
    return dialAngle(value, this.scale?.top ?? 1);
  }

  // What the gauge should show, as a number on its scale (null: not connected, for which there are words), and a note.
  /**
   * @param {number | null} target
   * @param {string} absent
   */
  set(target, absent, note = "") {
    this.needle.style.transform = `rotate(${this.angle(target ?? 0).toFixed(2)}deg)`;
    setText(this.note, target === null ? absent : note);
    this.root.classList.toggle("eb-unhooked", target === null);
    const now = performance.now();
    if ((target === null) !== (this.target === null)) this.seen.forget();
    Object.assign(this, { target, absent, said: note });
    if (target !== null) this.seen.look(now, Math.min(target, this.scale?.top ?? target));
    if (now - this.spokenAt > SPOKEN_EVERY_MS) this.speak();
    else this.speakLater();
  }

  speak() {
    this.spokenAt = performance.now();
    const read = this.scale?.read ?? 1;
    const chalk = this.chalk === null ? "" : `chalk mark ${placeInWords(this.chalk, read)}`;
    const words = [this.inWords(), this.said, chalk].filter(Boolean).join(", ");
    const shown = Math.min(Math.max(this.target ?? 0, 0), this.scale?.top ?? 0);
    const half = read / 2; // nothing finer is told than the scale shows
    setAttribute(this.meter, "aria-valuenow", Math.round(shown / half) * half);
    setAttribute(this.meter, "aria-valuetext", words);
  }

  // A needle that comes to rest is told at rest, though no further reading comes.
  speakLater() {
    if (this.speaks) return;
    this.speaks = true;
    setTimeout(() => {
      this.speaks = false;
      if (!this.meter.isConnected) return;
      if (this.target !== null) this.seen.look(performance.now(), this.target);
      const before = this.meter.getAttribute("aria-valuetext");
      this.speak();
      if (before !== this.meter.getAttribute("aria-valuetext")) this.speakLater();
    }, SPOKEN_EVERY_MS);
  }

  // Where the needle stands between its lines, and how it moves.
  inWords() {
    if (this.target === null || !this.scale) return this.absent;
    return this.seen.words(this.scale.read, this.scale.name);
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

/**
 * @param {number} value
 * @param {number} step
 */
function falls(value, step) {
  return Math.abs(value / step - Math.round(value / step)) < 1e-9;
}

// The way [across, down] of an angle [degrees clockwise of straight up].
/**
 * @param {number} degrees
 * @returns {[number, number]}
 */
function direction(degrees) {
  const turn = (degrees * Math.PI) / 180;
  return [Math.sin(turn), -Math.cos(turn)];
}

/** @param {number} radius */
function arc(radius) {
  const point = (/** @type {number} */ degrees) =>
    direction(degrees)
      .map((part) => (radius * part).toFixed(2))
      .join(" ");
  return `M ${point(FIRST_ANGLE)} A ${radius} ${radius} 0 1 1 ${point(FIRST_ANGLE + SWEEP)}`;
}
