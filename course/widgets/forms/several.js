// Several answers to tick.

import { HANDS_OFF, element, freshId } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Pair } from "../types.d.ts"
 *
 * @typedef {Form<{ choices: Pair[] }, { value: string[] }, { value: string[] }>} SeveralForm
 */

/** @param {SeveralForm} view */
function render(view) {
  return showForm(view, severalWork);
}

/** @param {SeveralForm["model"]} model */
function severalWork(model) {
  const ticked = new Set(model.get("answer").value ?? []);
  const options = model.get("choices").map(([value, text]) => {
    const id = freshId("cf-tick");
    return element(
      "label",
      { class: "cf-option", for: id },
      element("input", { ...HANDS_OFF, type: "checkbox", id, value, checked: ticked.has(value) }),
      element("span", {}, text),
    );
  });
  const root = element(
    "fieldset",
    { class: "cf-options" },
    element("legend", { class: "cf-hint" }, "Tick all that apply."),
    ...options,
  );
  /** @returns {NodeListOf<HTMLInputElement>} */
  const chosen = () => root.querySelectorAll("input:checked");
  const value = () => [...chosen()].map((input) => input.value);
  return { root, value: () => ({ value: value() }) };
}

export default { initialize: hear, render };
