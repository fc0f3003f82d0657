// The real controls under the pictures: one for each part that hands move, with its label and where it stands in words.

import { HANDS_OFF, element, freshId, pushButton, setAttribute, setText } from "../../shared/elements.js";
import { whereWords } from "../hand_turned.js";
import { PIXELS_PER_STEP, turnByDragging } from "./geared_drag.js";

/**
 * @import { Control, SendAct, Settings } from "../../types.d.ts"
 *
 * @typedef {object} Facts What a person knows of this engine. `rotor_turns` lays out the leads and draws no arrow.
 * @property {number} cylinders
 * @property {string} [rotor_turns]
 * @property {string} [vacuum_source]
 *
 * @typedef {object} SceneState
 * @property {Settings} settings
 * @property {boolean} [running]
 * @property {boolean} [cranking]
 * @property {boolean} [warm]
 * @property {boolean} [on_road]
 * @property {number | null} [speed_rpm]
 * @property {number[]} [beats] Strength of each cylinder's last firing, 1 is even.
 * @property {number | null} [marked_at] Where the body stood when body and block were marked; nothing: not marked.
 * @property {string} [arrow] Which way the rotor turns, where the picture may tell it.
 * @property {number | null} [mark_deg] Where a timing light shows the mark, degrees before top centre.
 *
 * @typedef {object} Workplace
 * @property {Control[]} controls
 * @property {SendAct} act
 * @property {(sentence: string) => void} say
 * @property {Facts} facts
 *
 * @typedef {object} Handle
 * @property {string} name
 * @property {HTMLElement} row
 * @property {(settings: Settings) => void} show
 *
 * @typedef {object} CloseUp
 * @property {string} name
 * @property {string} called In a word, for the chooser.
 * @property {string} title
 * @property {SVGSVGElement} picture
 * @property {Handle[]} handles
 * @property {(state: SceneState) => void} show
 */

const SENT_EVERY_MS = 100;
const REFUSED_EVERY_MS = 1000;
const BACK_AFTER_MS = 1200; // an act that was refused changes no setting: the part then goes back by itself
// The words at either end of a handle that is turned, from smaller to larger values.
/** @type {Record<string, [string, string]>} */
const ENDS = {
  distributor: ["↺ anticlockwise", "clockwise ↻"],
  idle_screw: ["↺ out", "in ↻"],
  mixture_screw: ["↻ in", "out ↺"],
  canister_screw: ["softer", "stiffer"],
  crank_mark: ["after", "before top centre"],
  point_gap: ["closer", "wider"],
  throttle: ["closed", "open"],
};

/**
 * @param {Workplace} place
 * @param {string} name
 */
export function offered(place, name) {
  return place.controls.find((control) => control.name === name);
}

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

  // `redraw` gets the value to draw; while `stuck` the part does not follow, and the engine says why.
  /**
   * @param {Workplace} place
   * @param {Control} control
   * @param {(value: number) => void} redraw
   * @param {() => boolean} stuck
   */
  constructor(place, control, redraw, stuck = () => false) {
    this.place = place;
    this.control = control;
    this.name = control.name;
    this.redraw = redraw;
    this.stuck = stuck;
    const id = freshId("es-turn");
    this.where = element("span", { class: "es-where" });
    /** @type {HTMLInputElement} */
    this.input = element("input", {
      id,
      type: "range",
      class: "es-range",
      min: control.low,
      max: control.high,
      step: control.step,
      value: control.low,
      "data-handle": control.name,
      ...HANDS_OFF,
      on: {
        input: () => this.moveTo(Number(this.input.value)),
        blur: () => this.letGo(),
        keydown: (event) => this.pressed(event),
      },
    });
    turnByDragging(this.input, this, null);
    const ends = ENDS[control.name] ?? ["less", "more"];
    this.row = element(
      "div",
      { class: "es-row" },
      element(
        "div",
        { class: "es-row-head" },
        element("label", { for: id, class: "es-label" }, control.label),
        this.where,
      ),
      this.input,
      element(
        "div",
        { class: "es-ends", "aria-hidden": "true" },
        element("span", {}, ends[0]),
        element("span", {}, ends[1]),
      ),
    );
  }

  get value() {
    return this.moved ?? this.stands;
  }

  /** @param {Settings} settings */
  show(settings) {
    this.stands = Number(settings[this.name]);
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
    if (steps || this.moved !== null) this.moveTo(this.from + steps * this.control.step);
  }

  letGo() {
    this.held = false;
    if (this.moved !== null) this.returnLater();
  }

  /** @param {number} wanted */
  moveTo(wanted) {
    const { low, high, step } = this.control;
    const value = Number((Math.round(Math.min(Math.max(wanted, low), high) / step) * step).toFixed(4));
    if (this.stuck()) {
      this.refuse(value);
      return;
    }
    if (value === this.value) return;
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
    this.place.act({ control: this.name, value: this.moved });
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
    this.place.act({ control: this.name, value });
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
    const words = this.name === "throttle" ? throttleWords(value) : whereWords(this.name, value);
    setText(this.where, words);
    setAttribute(this.input, "aria-valuetext", words);
    this.redraw(value);
  }

  // A page key takes the coarse step; Home and End would throw the part from one stop to the other.
  /** @param {KeyboardEvent} event */
  pressed(event) {
    const coarse = this.control.turns[1]?.[0] ?? 5 * this.control.step;
    /** @type {Record<string, number | undefined>} */
    const steps = { PageUp: coarse, PageDown: -coarse, Home: 0, End: 0 };
    const by = steps[event.key];
    if (by === undefined) return;
    event.preventDefault();
    if (by) this.moveTo(this.value + by);
  }

  // The page scrolls under the wheel as long as the handle has not been taken hold of.
  /** @param {WheelEvent} event */
  wheeled(event) {
    if (!this.input.matches(":focus") || !event.deltaY) return;
    event.preventDefault();
    this.moveTo(this.value - Math.sign(event.deltaY) * this.control.step);
  }
}

/** @param {number} share */
function throttleWords(share) {
  return share === 0 ? "closed" : `${Math.round(share * 100)} % open`;
}

// A part with a few places. Buttons, so that an arrow key on the way past does not move it.
/**
 * @param {Workplace} place
 * @param {Control} control
 * @returns {Handle}
 */
export function choiceHandle(place, control) {
  const buttons = control.choices.map((value) =>
    pushButton(value, () => place.act({ control: control.name, value }), {
      class: "es-choice",
      "aria-pressed": "false",
      "data-choice": value,
    }),
  );
  const [row, where] = groupRow(control.name, control.label, buttons);
  return {
    name: control.name,
    row,
    show: (settings) => {
      const stands = String(settings[control.name]);
      setText(where, stands);
      for (const button of buttons)
        setAttribute(button, "aria-pressed", String(button.dataset.choice === stands));
    },
  };
}

// Things to press that belong together, such as the two ways of a key.
/**
 * @param {Workplace} place
 * @param {string} name
 * @param {string} label
 * @param {Control[]} controls
 * @returns {Handle}
 */
export function pressHandle(place, name, label, controls) {
  const buttons = controls.map((control) =>
    pushButton(control.label, () => place.act({ control: control.name }), {
      class: "es-choice",
      "data-press": control.name,
    }),
  );
  const [row] = groupRow(name, label, buttons);
  return { name, row, show: () => {} };
}

/**
 * @param {string} name
 * @param {string} label
 * @param {Element[]} buttons
 * @returns {[HTMLElement, HTMLElement]}
 */
function groupRow(name, label, buttons) {
  const id = freshId("es-label");
  const where = element("span", { class: "es-where" });
  const row = element(
    "div",
    { class: "es-row" },
    element("div", { class: "es-row-head" }, element("span", { id, class: "es-label" }, label), where),
    element(
      "div",
      { class: "es-choices", role: "group", "aria-labelledby": id, "data-handle": name },
      ...buttons,
    ),
  );
  return [row, where];
}

// Parts of the picture with two places: a press on one asks for its other place, as its handle does.
/**
 * @param {SVGSVGElement} picture
 * @param {Workplace} place
 * @param {() => Settings} settings
 * @param {...string} names
 */
export function pressOnPicture(picture, place, settings, ...names) {
  for (const name of names) {
    const control = offered(place, name);
    const part = picture.querySelector(`[data-part=${name}]`);
    if (!control || !part) continue;
    part.classList.add("es-press");
    part.addEventListener("click", () => {
      const other = control.choices.find((choice) => choice !== settings()[name]);
      place.act({ control: name, value: other });
    });
  }
}

// The handles of these controls as far as the exercise offers them.
/**
 * @param {Workplace} place
 * @param {...string} names
 * @returns {Handle[]}
 */
export function choiceHandles(place, ...names) {
  return names.flatMap((name) => {
    const control = offered(place, name);
    return control ? [choiceHandle(place, control)] : [];
  });
}
