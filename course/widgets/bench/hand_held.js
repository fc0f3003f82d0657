// A speed that a hand on the throttle, or the brake of a test stand, holds: it is chosen first, then held or let go.

import { HANDS_OFF, element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";

/** @import { Control, SendAct, Updates } from "../types.d.ts" */

const FIRST_OFFERED_RPM = 1500;

/** @type {Record<string, { hold: string, leave: string, holds: string, free: string }>} */
const HELD_WORDS = {
  hold_speed: { hold: "Hold this speed", leave: "Let go", holds: "holds", free: "not held" },
  load_brake: { hold: "Brake to this speed", leave: "Brake off", holds: "brakes to", free: "brake off" },
};

/** @param {Control} control */
export function isHeld(control) {
  return control.name in HELD_WORDS;
}

// Choosing a speed moves nothing; while one is held, each new choice is taken up at once.
/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 */
export function held(control, act, updates) {
  const words = HELD_WORDS[control.name];
  const id = freshId("eb-held");
  const [[fine], [coarse]] = control.turns;
  let holding = 0;
  const output = element("span", { class: "eb-where" });
  const send = (/** @type {number | null} */ rpm) => act({ control: control.name, value: rpm });
  /** @type {HTMLInputElement} */
  const input = element("input", {
    type: "number",
    id,
    inputmode: "numeric",
    min: coarse,
    max: control.high,
    step: control.step,
    value: FIRST_OFFERED_RPM,
    "data-control": control.name,
    ...HANDS_OFF,
    on: {
      change: () => holding && chosen() !== holding && send(chosen()),
      keydown: (event) => {
        if (event.key !== "Enter") return;
        event.preventDefault(); // the browser would tell of the change once more
        send(chosen());
      },
    },
  });
  // As it was typed: what cannot be held is refused by the engine, in words.
  const chosen = () => (input.value === "" ? null : Number(input.value));
  const step = (/** @type {number} */ by) =>
    pushButton(
      `${by > 0 ? "+" : "−"}${Math.abs(by)}`,
      () => {
        input.value = String(steppedSpeed(chosen(), by, coarse, control.high));
        if (holding) send(chosen());
      },
      {
        class: "eb-turn",
        "data-control": control.name,
        "data-by": by,
        "aria-label": `${control.label}: ${Math.abs(by)} rpm ${by > 0 ? "faster" : "slower"}`,
      },
    );
  const hold = pushButton(words.hold, () => send(chosen()), {
    class: "eb-push",
    "data-control": control.name,
    "data-value": "hold",
    "aria-pressed": "false",
  });
  const leave = pushButton(words.leave, () => send(0), {
    class: "eb-push",
    "data-control": control.name,
    "data-value": "leave",
  });
  updates.push((settings) => {
    const held = Number(settings[control.name]);
    if (held !== holding && held) input.value = String(held);
    holding = held;
    setText(output, holding ? `${words.holds} ${holding} rpm` : words.free);
    setAttribute(hold, "aria-pressed", String(Boolean(holding)));
  });
  return element(
    "div",
    { class: "eb-row eb-row-turn eb-row-wide" },
    element(
      "div",
      { class: "eb-turn-head" },
      element("label", { for: id, class: "eb-label" }, control.label),
      output,
    ),
    element(
      "div",
      { class: "eb-held" },
      step(-coarse),
      step(-fine),
      element("span", { class: "eb-held-speed" }, input, " rpm"),
      step(fine),
      step(coarse),
    ),
    element("div", { class: "eb-presses" }, hold, leave),
  );
}

// The speed in the field after a step, within what the buttons offer; an empty field counts as the least of it.
/**
 * @param {number | null} rpm
 * @param {number} by
 * @param {number} least
 * @param {number} most
 */
export function steppedSpeed(rpm, by, least, most) {
  return Math.min(Math.max((rpm ?? least) + by, least), most);
}
