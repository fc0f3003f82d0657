// A part that hands turn, as one real slider: worked by dragging it or its picture, by wheel and by keys.

import { HANDS_OFF, element, freshId, setAttribute, setText } from "../shared/elements.js";
import { PIXELS_PER_STEP, turnByDragging } from "./scene/geared_drag.js";
import { whereWords } from "./where_words.js";

/** @import { Control, SendAct, Settings } from "../types.d.ts" */

const SENT_EVERY_MS = 100;
const REFUSED_EVERY_MS = 1000;
const BACK_AFTER_MS = 1200; // an act that was refused changes no setting: the part then goes back by itself
// What a slider says in full, and the line above it leaves out.
const SAID_IN_FULL = / (?:of where|than) you found it$| from fully (?:in|out)$/;
// What holds a part, so that the engine refuses to turn it, and what lets it turn only by a fourth part of a pull.
/** @type {Record<string, (settings: Settings) => boolean>} */
const HELD_BY = {
  distributor: ({ clamp }) => clamp === "tight",
  crank_mark: ({ spanner }) => spanner !== "on",
};
/** @type {Record<string, (settings: Settings) => number>} */
const DRAGS = { distributor: ({ clamp }) => (clamp === "snug" ? 4 : 1) };

// A part that is turned. Its value moves at once and is sent at most every 100 ms, always at a whole fine step.
export class TurnHandle {
  /** @type {number | null} */
  moved = null;
  /** @type {number | null} */
  told = null;
  stands = 0;
  dragged = 0;
  from = 0;
  held = false;
  lastSent = Number.NEGATIVE_INFINITY;
  lastRefused = Number.NEGATIVE_INFINITY;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  waiting;
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  back;

  stuck = false;
  drags = 1;
  /** @type {(value: number) => void} */
  redraw = () => {};

  /**
   * @param {Control} control
   * @param {SendAct} act
   */
  constructor(control, act) {
    this.control = control;
    this.act = act;
    this.name = control.name;
    this.where = element("span", { class: "eb-where" });
    /** @type {HTMLInputElement} */
    this.input = element("input", {
      id: freshId("eb-turn"),
      type: "range",
      class: "eb-range",
      min: control.low,
      max: control.high,
      step: control.step,
      value: control.low,
      "data-control": control.name,
      ...HANDS_OFF,
      on: {
        input: () => this.moveTo(Number(this.input.value)),
        blur: () => this.letGo(),
        keydown: (event) => this.pressed(event),
      },
    });
    turnByDragging(this.input, this, null);
  }

  // The picture of the part: `redraw` gets the value to draw.
  /** @param {(value: number) => void} redraw */
  drawnBy(redraw) {
    this.redraw = redraw;
    redraw(this.value);
  }

  // The least turn: of a body whose clamp drags, the fourth part of a step.
  get fine() {
    return this.control.step / this.drags;
  }

  get value() {
    return this.moved ?? this.stands;
  }

  /** @param {Settings} settings */
  show(settings) {
    this.stands = Number(settings[this.name]);
    this.stuck = HELD_BY[this.name]?.(settings) ?? false;
    this.drags = DRAGS[this.name]?.(settings) ?? 1;
    if (this.moved === this.stands && !this.held) this.settle();
    this.draw();
  }

  takeHold() {
    this.held = true;
    this.dragged = 0;
    this.from = this.value;
    this.lastRefused = Number.NEGATIVE_INFINITY;
    this.input.focus({ preventScroll: true });
  }

  /** @param {number} pixels */
  dragBy(pixels) {
    this.dragged += pixels;
    const steps = Math.round(this.dragged / PIXELS_PER_STEP);
    if (steps || this.moved !== null) this.moveTo(this.from + steps * this.fine);
  }

  letGo() {
    this.held = false;
    if (this.moved !== null) this.returnLater();
  }

  /** @param {number} wanted */
  moveTo(wanted) {
    const { low, high } = this.control;
    const step = this.fine;
    const value = Number((Math.round(Math.min(Math.max(wanted, low), high) / step) * step).toFixed(4));
    if (this.stuck) {
      this.refuse(value);
      return;
    }
    if (value === this.value) {
      if (wanted < low - step / 2 || wanted > high + step / 2) this.feelStop(value < wanted ? step : -step);
      return;
    }
    this.moved = value;
    this.draw();
    this.waiting ??= setTimeout(
      () => this.send(),
      Math.max(this.lastSent + SENT_EVERY_MS - performance.now(), 0),
    );
    this.returnLater();
  }

  send() {
    this.waiting = undefined;
    if (this.moved === null || this.moved === (this.told ?? this.stands)) return;
    this.told = this.moved;
    this.lastSent = performance.now();
    this.act({ control: this.name, value: this.moved });
  }

  // One act of a whole pull goes to the engine, whose sentence says why nothing moves.
  /** @param {number} value */
  refuse(value) {
    this.draw();
    const now = performance.now();
    if (
      value === this.stands ||
      (this.held ? Number.isFinite(this.lastRefused) : now < this.lastRefused + REFUSED_EVERY_MS)
    )
      return;
    this.lastRefused = now;
    this.act({ control: this.name, value });
  }

  // A hand that goes on at the end of the travel learns that this is the end, once for each pull.
  /** @param {number} by */
  feelStop(by) {
    const now = performance.now();
    const told = this.held ? Number.isFinite(this.lastRefused) : now < this.lastRefused + REFUSED_EVERY_MS;
    if (told || this.value !== this.stands) return;
    this.lastRefused = now;
    this.act({ control: this.name, by });
  }

  returnLater() {
    clearTimeout(this.back);
    this.back = setTimeout(() => {
      if (this.held) return;
      this.settle();
      this.draw();
    }, BACK_AFTER_MS);
  }

  settle() {
    this.moved = this.told = null;
    clearTimeout(this.back);
  }

  draw() {
    const value = this.value;
    this.input.value = String(value);
    const words = whereWords(this.name, value);
    setText(this.where, words.replace(SAID_IN_FULL, ""));
    setAttribute(this.input, "aria-valuetext", words);
    this.redraw(value);
  }

  // A page key takes the coarse step; Home and End would throw the part from one stop to the other.
  /** @param {KeyboardEvent} event */
  pressed(event) {
    const coarse = (this.control.turns[1]?.[0] ?? 5 * this.control.step) / this.drags;
    /** @type {Record<string, number | undefined>} */
    const steps = { PageUp: coarse, PageDown: -coarse, Home: 0, End: 0 };
    /** @type {Record<string, number | undefined>} */
    const arrows = {
      ArrowRight: this.fine,
      ArrowUp: this.fine,
      ArrowLeft: -this.fine,
      ArrowDown: -this.fine,
    };
    const by = arrows[event.key] ?? (this.control.turns.length ? steps[event.key] : undefined);
    if (by === undefined) return;
    event.preventDefault();
    if (by) this.moveTo(this.value + by);
  }

  // The page scrolls under the wheel as long as the handle has not been taken hold of.
  /** @param {WheelEvent} event */
  wheeled(event) {
    if (!this.input.matches(":focus") || !event.deltaY) return;
    event.preventDefault();
    this.moveTo(this.value - Math.sign(event.deltaY) * this.fine);
  }
}
