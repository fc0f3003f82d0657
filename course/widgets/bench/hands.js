// What hands can move, in the order of the work; every press is sent to the engine, nothing is decided here.

import { element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { held, isHeld } from "./hand_held.js";
import { turned } from "./hand_turned.js";

/**
 * @import { Control, Group, SendAct, Settings, Updates } from "../types.d.ts"
 * @import { TurnHandle } from "./turn_handle.js"
 */

const MOST_JOINED = 4;
const LONG_CHOICES = 45; // letters of all choices together that do not fit on one line
const SHORT_ROW = 30; // letters of label and choices that share a line with another control
// Where the place itself says more than the setting's name.
/** @type {Record<string, Record<string, string | undefined>>} */
const CHOICE_WORDS = {
  tachometer: { on: "on the points side" },
  driver: { "everyone clear, foot on the brake": "seated: everyone clear, foot on the brake" },
};

const [STOP, STARTER] = ["stop", "starter"]; // the two of the key

// The phases of the work, of which one is in hand. `act(message)` sends; the answer has `root`, the `phases` to choose
// from, `update(settings)`, `take(title)`, which takes a phase in hand, and `handle(name)`, the slider of a part that is
// turned. `taken` hears of the phase, `touched` of the control that has the focus.
/**
 * @param {Group[]} work
 * @param {SendAct} act
 * @param {(title: string) => void} taken
 * @param {(control: string) => void} touched
 */
export function hands(work, act, taken, touched) {
  /** @type {Updates} */
  const updates = [];
  /** @type {Map<string, TurnHandle>} */
  const handles = new Map();
  const phases = work.map((group, index) => new Phase(group, index + 1, act, updates, handles, take));
  const focused = (/** @type {FocusEvent & { target: Element }} */ { target }) => {
    const control = target.getAttribute("data-control");
    if (control) touched(control);
  };
  function take(/** @type {string} */ title) {
    for (const phase of phases) phase.show(phase.title === title);
    taken(title);
  }
  return {
    root: element(
      "div",
      { class: "eb-hands", on: { focusin: focused } },
      ...phases.map((phase) => phase.root),
    ),
    handle: (/** @type {string} */ name) => handles.get(name),
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

// The key switch and what goes with every phase: reading the gauges and letting time pass. On the road the same act is a
// foot lifted: who learns to turn the key there loses steering and brakes at a real vehicle.
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
  const [stop] = controls.filter(({ name }) => name === STOP);
  const stopButton = button(stop);
  return {
    /** @param {boolean} onRoad */
    update: (onRoad) => setText(stopButton, onRoad ? "Lift the foot" : stop.label),
    key: element(
      "div",
      { class: "eb-key", role: "group", "aria-label": "Key switch" },
      stopButton,
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
   * @param {Map<string, TurnHandle>} handles
   * @param {(title: string) => void} take
   */
  constructor(group, number, act, updates, handles, take) {
    this.title = group.title;
    const presses = group.controls.filter((control) => control.kind === "press");
    const others = group.controls.filter((control) => control.kind !== "press");
    const pressed = presses.map((control) =>
      pushButton(control.label, () => act({ control: control.name }), {
        "data-control": control.name,
        class: "eb-push",
      }),
    );
    markOrBack(pressed, updates);
    const first = others.slice(0, 1).map((control) => row(control, act, updates, handles));
    const beside = pressed.length ? element("div", { class: "eb-presses" }, ...pressed) : null;
    this.root = element(
      "div",
      {
        class: "eb-group",
        id: freshId("eb-group"),
        role: "group",
        "aria-label": group.title,
        "data-group": group.title,
      },
      pressed.length ? element("div", { class: "eb-first" }, ...first, beside) : first[0],
      ...others.slice(1).map((control) => row(control, act, updates, handles)),
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

// Before the mark was made it can be made; from then on the way back to it is there, in the same place.
/**
 * @param {HTMLButtonElement[]} pressed
 * @param {Updates} updates
 */
function markOrBack(pressed, updates) {
  const [mark, back] = ["mark_body", "back_to_mark"].map((name) =>
    pressed.find((button) => button.dataset.control === name),
  );
  if (!mark || !back) return;
  updates.push(({ marked_at }) => {
    const marked = marked_at !== null && marked_at !== undefined;
    const hadFocus = document.activeElement === mark;
    back.hidden = !marked;
    mark.hidden = marked;
    if (marked && hadFocus) back.focus({ preventScroll: true });
  });
}

/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 * @param {Map<string, TurnHandle>} handles
 */
function row(control, act, updates, handles) {
  if (control.kind === "choice") return choice(control, act, updates);
  return isHeld(control) ? held(control, act, updates) : turned(control, act, updates, handles);
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
    pushButton(wordsOf(control, value), () => act({ control: control.name, value }), {
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
    { class: control.label.length + lettersOf(control) > SHORT_ROW ? "eb-row eb-row-wide" : "eb-row" },
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
function needsRoom(control) {
  return control.choices.length > MOST_JOINED || lettersOf(control) > LONG_CHOICES;
}

/** @param {Control} control */
function lettersOf(control) {
  return control.choices.map((value) => wordsOf(control, value)).join("").length;
}

/**
 * @param {Control} control
 * @param {string} value
 */
function wordsOf({ name }, value) {
  return CHOICE_WORDS[name]?.[value] ?? value;
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
