// One answer to choose.

import { HANDS_OFF, element, freshId } from "./elements.js";

/** @import { FormOfChoices } from "../types.d.ts" */

/**
 * @param {FormOfChoices["model"]} model
 * @param {string} legend
 */
export function choiceList(model, legend, legendClass = "cf-hint") {
  const name = freshId("cf-choice");
  const chosen = model.get("answer").value;
  const options = model.get("choices").map(([value, text]) => {
    const id = freshId("cf-option");
    return element(
      "label",
      { class: "cf-option", for: id },
      element("input", { type: "radio", id, name, value, checked: value === chosen, ...HANDS_OFF }),
      element("span", {}, text),
    );
  });
  const root = element(
    "fieldset",
    { class: "cf-options" },
    element("legend", { class: legendClass }, legend),
    ...options,
  );
  const ticked = () => /** @type {HTMLInputElement | null} */ (root.querySelector("input:checked"));
  return { root, value: () => ({ value: ticked()?.value ?? null }) };
}
