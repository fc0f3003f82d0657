// The instructor's desk: engine, day and fault of the bench below; names of the parts on or off; and the pause in which a
// class says its guess, with the needles hidden.

import { HANDS_OFF, element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { hear } from "../shared/late_start.js";
import { cardAboveBench } from "./above_a_bench.js";

/**
 * @import { Alive, Heartbeat, Pair, View } from "../types.d.ts"
 * @import { UnitChoice } from "../shared/units.js"
 *
 * @typedef {{ engine: string, day: string, fault: string, prepared: boolean }} Shown
 *
 * @typedef {object} Traits
 * @property {string} connection
 * @property {Partial<UnitChoice>} chosen_units
 * @property {Pair[]} engines
 * @property {string[]} days
 * @property {Pair[]} faults
 * @property {Shown} shown
 * @property {string} said
 * @property {string} heading
 * @property {string} about
 *
 * @typedef {Heartbeat | { set_up: Shown }} Sent
 * @typedef {View<Traits, Sent, Alive>} ShowDesk
 */

const GUESS = "What will the needles do? Say your guess. They are shown again when the pause ends.";

/** @param {ShowDesk} view */
function render(view) {
  const card = { name: "desk", heading: view.model.get("heading"), remark: "Nothing of it is written down" };
  return cardAboveBench(view, card, (send, listen) => desk(view.model, send, listen));
}

/**
 * @param {ShowDesk["model"]} model
 * @param {(message: { set_up: Shown }) => void} send
 * @param {(names: ("shown" | "said")[], update: () => void) => void} listen
 */
function desk(model, send, listen) {
  const guess = element("p", { class: "sh-guess", role: "status", "aria-live": "polite" });
  const said = element("p", {
    class: "cf-said",
    role: "status",
    "aria-live": "polite",
    "data-kind": "wrong",
  });
  const engine = selectOf("Engine", model.get("engines"));
  const day = selectOf(
    "Day",
    model.get("days").map((name) => [name, name]),
  );
  const fault = selectOf("What is wrong", model.get("faults"));
  const state = selectOf("How it stands", [
    ["true", "made safe and hooked up"],
    ["false", "as it was driven in"],
  ]);
  const labels = pushButton("Names of the parts", () => mark(labels, "showLabels", "on", "off"));
  const pause = pushButton("Predict now", () => {
    mark(pause, "showGuess", "true", "false");
    const on = document.body.dataset.showGuess === "true";
    setText(pause, on ? "Show the needles" : "Predict now");
    setText(guess, on ? GUESS : "");
    hideFromReaders(on);
  });
  pause.classList.add("sh-pause");
  setAttribute(labels, "aria-pressed", "true");
  setAttribute(pause, "aria-pressed", "false");
  const setUp = pushButton(
    "Put it on the bench",
    () => {
      if (document.body.dataset.showGuess === "true") pause.click();
      const wanted = {
        engine: engine.field.value,
        day: day.field.value,
        fault: fault.field.value,
        prepared: state.field.value === "true",
      };
      choices.open = false; // the class is not to read there what is wrong
      send({ set_up: wanted });
    },
    { class: "cf-press" },
  );
  const choices = element(
    "details",
    { class: "sh-choices" },
    element("summary", { ...HANDS_OFF }, model.get("about")),
    element("div", { class: "sh-fields" }, engine.root, day.root, fault.root, state.root, setUp),
  );
  choices.open = true;
  listen(["shown"], () => {
    const shown = model.get("shown");
    engine.field.value = shown.engine;
    day.field.value = shown.day;
    fault.field.value = shown.fault;
    state.field.value = String(shown.prepared);
  });
  listen(["said"], () => setText(said, model.get("said")));
  return [choices, element("div", { class: "cf-row" }, pause, labels), said, guess];
}

// A switch of the whole page, which the look of the bench follows; the button says how it stands.
/**
 * @param {HTMLButtonElement} button
 * @param {"showLabels" | "showGuess"} name
 * @param {string} on
 * @param {string} off
 */
function mark(button, name, on, off) {
  const pressed = button.getAttribute("aria-pressed") === "true";
  document.body.dataset[name] = pressed ? off : on;
  setAttribute(button, "aria-pressed", String(!pressed));
}

// The dials tell a screen reader what they show; a guess is made without it, too.
/** @param {boolean} hidden */
function hideFromReaders(hidden) {
  for (const dial of document.querySelectorAll(".engine-bench .eb-instruments")) {
    if (hidden) dial.setAttribute("aria-hidden", "true");
    else dial.removeAttribute("aria-hidden");
  }
}

/**
 * @param {string} label
 * @param {Pair[]} options
 */
function selectOf(label, options) {
  const id = freshId("sh-field");
  const field = element(
    "select",
    { ...HANDS_OFF, id },
    ...options.map(([value, text]) => element("option", { value }, text)),
  );
  return { field, root: element("div", { class: "sh-field" }, element("label", { for: id }, label), field) };
}

export default { initialize: hear, render };
