// What hands can move, in the order of the work; every press is sent to the engine, nothing is decided here.

import { HANDS_OFF, element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { held, isHeld } from "./hand_held.js";
import { turned } from "./hand_turned.js";

/** @import { Child, Control, Group, SendAct, Settings, Updates } from "../types.d.ts" */

const THROTTLE_EVERY_MS = 90;
const MOST_JOINED = 4;
const LONG_CHOICES = 45; // letters of all choices together that do not fit on one line

const STARTER = "starter"; // its label names the part, its button what it does

// The groups as elements. `act(message)` sends; the answer has `root` and `update(settings)`.
/**
 * @param {Group[]} work
 * @param {SendAct} act
 */
export function hands(work, act) {
  /** @type {Updates} */
  const updates = [];
  const groups = work.map((group, index) => {
    const presses = group.controls.filter((control) => control.kind === "press");
    const others = group.controls.filter((control) => control.kind !== "press");
    const rows = others.map((control) => row(control, act, updates));
    const pressed = presses.length
      ? element(
          "div",
          { class: "eb-presses" },
          ...presses.map((control) =>
            pushButton(
              control.name === STARTER ? "Start" : control.label,
              () => act({ control: control.name }),
              {
                "data-control": control.name,
                class: "eb-push",
              },
            ),
          ),
        )
      : null;
    return folding(group.title, index + 1, group.title === "Run" ? [pressed, ...rows] : [...rows, pressed]);
  });
  return {
    root: element("div", { class: "eb-hands" }, ...groups),
    update: (/** @type {Settings} */ settings) => {
      for (const update of updates) update(settings);
    },
  };
}

// One group, which can be folded away where its work is done; what is said about it stays in sight.
/**
 * @param {string} title
 * @param {number} number
 * @param {Child[]} parts
 */
function folding(title, number, parts) {
  const body = element("div", { class: "eb-group-body", id: freshId("eb-group") }, ...parts);
  const fold = pushButton("", () => turn(body.hidden), { class: "eb-fold", "aria-controls": body.id });
  fold.append(element("span", { class: "eb-number", "aria-hidden": "true" }, String(number)), title);
  const turn = (/** @type {boolean} */ open) => {
    body.hidden = !open;
    setAttribute(fold, "aria-expanded", String(open));
  };
  turn(true);
  return element(
    "fieldset",
    { class: "eb-group", "data-group": title },
    element("legend", {}, fold),
    body,
    element("div", { class: "eb-echo", "aria-hidden": "true", hidden: true }),
  );
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
