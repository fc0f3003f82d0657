// What hands can move, in the order of the work; every press is sent to the engine, nothing is decided here.

import { HANDS_OFF, element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { held, isHeld } from "./hand_held.js";
import { turned } from "./hand_turned.js";

/** @import { Control, Group, SendAct, Settings, Updates } from "../types.d.ts" */

const THROTTLE_EVERY_MS = 90;
const MOST_JOINED = 4;
const LONG_CHOICES = 45; // letters of all choices together that do not fit on one line

const [STOP, STARTER] = ["stop", "starter"]; // the two of the key

// The phases of the work, of which one is in hand. `act(message)` sends; the answer has `root`, the `phases` to choose
// from, `update(settings)` and `take(title)`, which takes a phase in hand.
/**
 * @param {Group[]} work
 * @param {SendAct} act
 * @param {(title: string) => void} taken
 */
export function hands(work, act, taken) {
  /** @type {Updates} */
  const updates = [];
  const phases = work.map((group, index) => new Phase(group, index + 1, act, updates, take));
  function take(/** @type {string} */ title) {
    for (const phase of phases) phase.show(phase.title === title);
    taken(title);
  }
  return {
    root: element("div", { class: "eb-hands" }, ...phases.map((phase) => phase.root)),
    phases: element(
      "div",
      { class: "eb-phases", role: "group", "aria-label": "Phases of the work" },
      ...phases.map((phase) => phase.button),
    ),
    take,
    update: (/** @type {Settings} */ settings) => {
      for (const update of updates) update(settings);
    },
  };
}

// The key switch and what goes with every phase: reading the gauges and letting time pass.
/**
 * @param {Control[]} controls
 * @param {SendAct} act
 */
export function atHand(controls, act) {
  const button = (/** @type {Control} */ { name, label }) =>
    pushButton(name === STARTER ? "Start" : label, () => act({ control: name }), {
      "data-control": name,
      class: "eb-push",
    });
  return {
    key: element(
      "div",
      { class: "eb-key", role: "group", "aria-label": "Key switch" },
      ...controls.filter(({ name }) => name === STOP).map(button),
      element("span", { class: "eb-key-hint" }, "or the Esc key"),
      ...controls.filter(({ name }) => name === STARTER).map(button),
    ),
    presses: controls.filter(({ name }) => name !== STOP && name !== STARTER).map(button),
  };
}

// The controls of one phase, and the button that takes it in hand.
class Phase {
  /**
   * @param {Group} group
   * @param {number} number
   * @param {SendAct} act
   * @param {Updates} updates
   * @param {(title: string) => void} take
   */
  constructor(group, number, act, updates, take) {
    this.title = group.title;
    const presses = group.controls.filter((control) => control.kind === "press");
    const others = group.controls.filter((control) => control.kind !== "press");
    const pressed = presses.map((control) =>
      pushButton(control.label, () => act({ control: control.name }), {
        "data-control": control.name,
        class: "eb-push",
      }),
    );
    this.root = element(
      "div",
      {
        class: "eb-group",
        id: freshId("eb-group"),
        role: "group",
        "aria-label": group.title,
        "data-group": group.title,
      },
      ...others.map((control) => row(control, act, updates)),
      pressed.length ? element("div", { class: "eb-presses" }, ...pressed) : null,
    );
    this.button = pushButton("", () => take(group.title), {
      class: "eb-phase",
      "data-phase": group.title,
      "aria-controls": this.root.id,
    });
    this.button.append(
      element("span", { class: "eb-number", "aria-hidden": "true" }, String(number)),
      group.title,
    );
  }

  /** @param {boolean} inHand */
  show(inHand) {
    this.root.hidden = !inHand;
    setAttribute(this.button, "aria-expanded", String(inHand));
  }
}

/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 */
function row(control, act, updates) {
  if (control.name === "throttle") return throttle(control, act, updates);
  if (control.kind === "choice") return choice(control, act, updates);
  return isHeld(control) ? held(control, act, updates) : turned(control, act, updates);
}

// Buttons rather than radio buttons: an arrow key on the way from park to neutral must not put the truck in reverse.
/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 */
function choice(control, act, updates) {
  const name = freshId("eb-label");
  const buttons = control.choices.map((value) =>
    pushButton(value, () => act({ control: control.name, value }), {
      class: "eb-choice",
      "aria-pressed": "false",
      "data-control": control.name,
      "data-value": value,
    }),
  );
  updates.push((settings) => {
    for (const button of buttons)
      setAttribute(button, "aria-pressed", String(settings[control.name] === button.dataset.value));
  });
  return element(
    "div",
    { class: "eb-row" },
    element("span", { id: name, class: "eb-label" }, control.label),
    element(
      "div",
      {
        class: needsRoom(control) ? "eb-choices eb-choices-apart" : "eb-choices",
        role: "group",
        "aria-labelledby": name,
        on: { keydown: walk },
      },
      ...buttons,
    ),
  );
}

// Choices that do not fit on one line stand apart, so that a second line looks like one.
/** @param {Control} control */
function needsRoom({ choices }) {
  return choices.length > MOST_JOINED || choices.join("").length > LONG_CHOICES;
}

// Arrow keys walk along the choices without pressing any.
/** @param {KeyboardEvent & { currentTarget: Element, target: Element }} event */
function walk(event) {
  /** @type {Record<string, number | undefined>} */
  const ways = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 };
  const step = ways[event.key];
  if (!step) return;
  const buttons = [...event.currentTarget.querySelectorAll("button")];
  const next = buttons[buttons.indexOf(/** @type {HTMLButtonElement} */ (event.target)) + step];
  event.preventDefault();
  if (next) next.focus();
}

/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 */
function throttle(control, act, updates) {
  const id = freshId("eb-throttle");
  const output = element("span", { class: "eb-where" });
  /** @type {ReturnType<typeof setTimeout> | null} */
  let waiting = null;
  let held = false;
  const send = () => {
    waiting = null;
    act({ control: control.name, value: Number(input.value) });
  };
  /** @type {HTMLInputElement} */
  const input = element("input", {
    type: "range",
    id,
    min: control.low,
    max: control.high,
    step: control.step,
    value: control.low,
    "data-control": control.name,
    ...HANDS_OFF,
    on: {
      input: () => {
        show();
        waiting ??= setTimeout(send, THROTTLE_EVERY_MS);
      },
      pointerdown: () => {
        held = true;
      },
      pointerup: () => {
        held = false;
      },
      blur: () => {
        held = false;
      },
    },
  });
  const show = () => {
    const words = Number(input.value) === 0 ? "closed" : `${Math.round(Number(input.value) * 100)} % open`;
    setText(output, words);
    setAttribute(input, "aria-valuetext", words);
  };
  updates.push((settings) => {
    if (held || waiting !== null) return;
    input.value = String(settings[control.name]);
    show();
  });
  return element(
    "div",
    { class: "eb-row" },
    element("label", { for: id, class: "eb-label" }, control.label),
    element(
      "div",
      { class: "eb-slide" },
      input,
      output,
      pushButton("Close", () => act({ control: control.name, value: control.low }), {
        class: "eb-choice",
        "aria-label": "Close the throttle",
      }),
    ),
  );
}
