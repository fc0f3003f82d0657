// The questions with one answer (choice, number, written) and the check.

import { choiceList } from "../shared/choice_list.js";
import { HANDS_OFF, element, freshId, onEnter } from "../shared/elements.js";
import { RECORD, showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

const WORK = {
  choice: choiceWork,
  number: numberWork,
  written: writtenWork,
  check: () => ({ root: null, value: () => null }),
};
const PRESS = { choice: RECORD, number: RECORD, written: "Save", check: "Check my work" };

function render(view) {
  const kind = view.model.get("kind");
  return showForm(view, WORK[kind], PRESS[kind]);
}

function choiceWork(model) {
  return choiceList(model, model.get("question"), "cf-hidden");
}

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

function writtenWork(model, send) {
  const id = freshId("cf-written");
  const area = element("textarea", {
    id,
    rows: 8,
    maxlength: model.get("longest"),
    class: "cf-written-field",
    ...HANDS_OFF,
    on: { change: () => send() },
  }); // leaving the field saves it
  area.value = model.get("answer").value ?? "";
  return {
    root: element("div", {}, element("label", { for: id }, "Your answer"), area),
    value: () => ({ value: area.value }),
  };
}

export default { initialize: hear, render };
