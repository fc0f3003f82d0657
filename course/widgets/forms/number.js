// One number with its unit.

import { HANDS_OFF, element, freshId, onEnter } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form } from "../types.d.ts"
 *
 * @typedef {{ value: number, unit: string | null, text: string }} Given
 * @typedef {Form<{ units: string[] }, Given, { value: string, unit: string | null }>} NumberForm
 */

/** @param {NumberForm} view */
function render(view) {
  return showForm(view, numberWork);
}

/**
 * @param {NumberForm["model"]} model
 * @param {() => void} send
 */
function numberWork(model, send) {
  const id = freshId("cf-number"),
    unitId = freshId("cf-unit");
  const { text = "", unit } = model.get("answer");
  const units = model.get("units");
  const input = element("input", {
    id,
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    value: text,
    class: "cf-number-field",
    ...HANDS_OFF,
    on: { keydown: (event) => onEnter(event, send) },
  });
  const select =
    units.length > 1
      ? element(
          "select",
          { id: unitId, ...HANDS_OFF },
          element("option", { value: "" }, "choose a unit"),
          ...units.map((name) => element("option", { value: name, selected: name === unit }, name)),
        )
      : null;
  const root = element(
    "div",
    { class: "cf-row" },
    element("label", { for: id }, "Your answer"),
    input,
    select ? element("label", { for: unitId, class: "cf-hidden" }, "Unit") : null,
    select ?? element("span", {}, units[0] ?? ""),
  );
  return { root, value: () => ({ value: input.value, unit: select ? select.value : (units[0] ?? null) }) };
}

export default { initialize: hear, render };
