// What hands can move, in the order of the work; every press is sent to the engine, nothing is decided here.

import { HANDS_OFF, drawing, element, freshId, pushButton, setAttribute, setText } from "./elements.js";

const THROTTLE_EVERY_MS = 90;

const PRESS_WORDS = {
  starter: "Start",
  stop: "Switch off",
  snap: "Snap the throttle",
  wait_until_warm: "Wait until warm",
  wait: "Wait ten seconds",
  read_gauges: "Read the gauges",
  road_check: "Road check",
};

// The groups as elements. `act(message)` sends; the answer has `root` and `update(settings)`.
export function hands(work, act) {
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
            pushButton(PRESS_WORDS[control.name] ?? control.label, () => act({ control: control.name }), {
              "data-control": control.name,
              class: "eb-push",
            }),
          ),
        )
      : null;
    return element(
      "fieldset",
      { class: "eb-group", "data-group": group.title },
      element(
        "legend",
        {},
        element("span", { class: "eb-number", "aria-hidden": "true" }, String(index + 1)),
        group.title,
      ),
      ...(group.title === "Run" ? [pressed, ...rows] : [...rows, pressed]),
      element("div", { class: "eb-echo", "aria-hidden": "true", hidden: true }),
    );
  });
  return {
    root: element("div", { class: "eb-hands" }, ...groups),
    update: (settings) => {
      for (const update of updates) update(settings);
    },
  };
}

function row(control, act, updates) {
  if (control.name === "throttle") return throttle(control, act, updates);
  return control.kind === "choice" ? choice(control, act, updates) : turned(control, act, updates);
}

// Buttons rather than radio buttons: an arrow key on the way from park to neutral must not put the truck in reverse.
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
      { class: "eb-choices", role: "group", "aria-labelledby": name, on: { keydown: walk } },
      ...buttons,
    ),
  );
}

// Arrow keys walk along the choices without pressing any.
function walk(event) {
  const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
  if (!step) return;
  const buttons = [...event.currentTarget.querySelectorAll("button")];
  const next = buttons[buttons.indexOf(event.target) + step];
  event.preventDefault();
  if (next) next.focus();
}

const TURN_WORDS = {
  distributor: { back: "anticlockwise", on: "clockwise", signs: ["↺", "↻"], sizes: ["¼°", "2°"] },
  idle_screw: { back: "out", on: "in", signs: ["↺", "↻"], sizes: ["1/20 turn", "1/4 turn"] },
};

function turned(control, act, updates) {
  const words = TURN_WORDS[control.name];
  const name = freshId("eb-label");
  const [fine, coarse] = control.turns;
  const button = (size, way, by) =>
    pushButton(size, () => act({ control: control.name, by }), {
      class: "eb-turn",
      "data-control": control.name,
      "data-by": by,
      "aria-label": `${control.label}: ${size} ${way}`,
    });
  const half = (sign, way, ...buttons) =>
    element(
      "div",
      { class: "eb-half" },
      element("span", { class: "eb-way", "aria-hidden": "true" }, `${sign} ${way}`),
      ...buttons,
    );
  const where = element("span", { class: "eb-where" });
  const picture = control.name === "distributor" ? distributorPicture() : screwPicture();
  updates.push((settings) => {
    setText(where, whereWords(control.name, settings[control.name]));
    picture.turn(settings[control.name]);
  });
  const [small, large] = words.sizes;
  return element(
    "div",
    { class: "eb-row eb-row-turn" },
    element(
      "div",
      { class: "eb-turn-head" },
      picture.root,
      element("span", { class: "eb-label", id: name }, control.label),
      where,
    ),
    element(
      "div",
      { class: "eb-turns", role: "group", "aria-labelledby": name },
      half(words.signs[0], words.back, button(large, words.back, -coarse), button(small, words.back, -fine)),
      half(words.signs[1], words.on, button(small, words.on, fine), button(large, words.on, coarse)),
    ),
  );
}

// Only what hands themselves know: how far the part stands from the chalk mark made when the engine was found.
function whereWords(name, value) {
  if (name === "idle_screw") return `${value.toFixed(2)} turns in from fully out`;
  if (Math.abs(value) < 1e-6) return "as found";
  return `${Math.abs(value).toFixed(2)}° ${value > 0 ? "clockwise" : "anticlockwise"} of where you found it`;
}

function distributorPicture() {
  const body = drawing(
    "g",
    {},
    drawing("circle", { class: "eb-part", r: 15 }),
    drawing("circle", { class: "eb-part", r: 5 }),
    drawing("line", { class: "eb-part-mark", y1: -15, y2: -8 }),
    drawing("rect", { class: "eb-part", x: -3.5, y: 15, width: 7, height: 5, rx: 1 }),
  );
  const root = drawing(
    "svg",
    { class: "eb-picture", viewBox: "-22 -22 44 44", "aria-hidden": "true", focusable: "false" },
    drawing("path", { class: "eb-part-mark", d: "M 0 -16.5 L -3 -21.5 L 3 -21.5 Z" }),
    body,
  );
  return { root, turn: (value) => setAttribute(body, "transform", `rotate(${value})`) };
}

function screwPicture() {
  const slot = drawing("line", { class: "eb-part-mark", x1: -9, x2: 9 });
  const root = drawing(
    "svg",
    { class: "eb-picture", viewBox: "-22 -22 44 44", "aria-hidden": "true", focusable: "false" },
    drawing("circle", { class: "eb-part", r: 15 }),
    slot,
  );
  return { root, turn: (value) => setAttribute(slot, "transform", `rotate(${(value % 1) * 360})`) };
}

function throttle(control, act, updates) {
  const id = freshId("eb-throttle");
  const output = element("span", { class: "eb-where" });
  let waiting = null,
    held = false;
  const send = () => {
    waiting = null;
    act({ control: control.name, value: Number(input.value) });
  };
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
    const words = Number(input.value) === 0 ? "closed" : `${Math.round(input.value * 100)} % open`;
    setText(output, words);
    setAttribute(input, "aria-valuetext", words);
  };
  updates.push((settings) => {
    if (held || waiting !== null) return;
    input.value = settings[control.name];
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
