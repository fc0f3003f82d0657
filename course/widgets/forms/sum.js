// A sum to fill in: labelled lines, each a number with its unit.

import { HANDS_OFF, element, freshId, onEnter } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Measured, Written } from "../types.d.ts"
 *
 * @typedef {{ id: string, label: string, sign: "" | "+" | "-" | "×" | "=", units: string[] }} Field
 * @typedef {{ value: Record<string, Measured | null> }} Given
 * @typedef {Form<{ fields: Field[] }, Given, { value: Record<string, Written> }>} SumForm
 */

const SIGNS_SPOKEN = { "+": "plus", "-": "minus", "×": "times", "=": "equals" };

/** @param {SumForm} view */
function render(view) {
  return showForm(view, sumWork);
}

/**
 * @param {SumForm["model"]} model
 * @param {() => void} send
 */
function sumWork(model, send) {
  const given = model.get("answer").value ?? {};
  const lines = model.get("fields").map((field) => sumLine(field, given[field.id], send));
  const root = element("div", { class: "cf-sum-lines" }, ...lines.map((line) => line.root));
  return { root, value: () => ({ value: Object.fromEntries(lines.map((line) => [line.id, line.value()])) }) };
}

/**
 * @param {Field} field
 * @param {Measured | null | undefined} given
 * @param {() => void} send
 */
function sumLine({ id, label, sign, units }, given, send) {
  const name = freshId("cf-line"),
    unitName = freshId("cf-line-unit");
  const input = element("input", {
    ...HANDS_OFF,
    id: name,
    type: "text",
    inputmode: "decimal",
    autocomplete: "off",
    class: "cf-number-field",
    value: given ? String(given[0]) : "",
    on: { keydown: (event) => onEnter(event, send) },
  });
  const select =
    units.length > 1
      ? element(
          "select",
          { ...HANDS_OFF, id: unitName },
          element("option", { value: "" }, "choose a unit"),
          ...units.map((unit) => element("option", { value: unit, selected: given?.[1] === unit }, unit)),
        )
      : null;
  const root = element(
    "div",
    { class: "cf-sum-line", "data-field": id, "data-sign": sign },
    element("span", { class: "cf-sum-sign", "aria-hidden": "true" }, sign === "-" ? "\u2212" : sign),
    element(
      "label",
      { for: name },
      sign ? element("span", { class: "cf-hidden" }, `${SIGNS_SPOKEN[sign]} `) : null,
      label,
    ),
    element(
      "span",
      { class: "cf-sum-entry" },
      input,
      select ? element("label", { for: unitName, class: "cf-hidden" }, `Unit of ${label}`) : null,
      select ?? element("span", { class: "cf-unit" }, units[0]),
    ),
  );
  return { id, root, value: () => ({ text: input.value, unit: select ? select.value : units[0] }) };
}

export default { initialize: hear, render };
