// The questions with one answer (choice, number, written) and the check.

import { HANDS_OFF, element, freshId } from "./elements.js";
import { RECORD, showForm } from "./form_view.js";

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
    element("legend", { class: "cf-hidden" }, model.get("question")),
    ...options,
  );
  return { root, value: () => ({ value: root.querySelector("input:checked")?.value ?? null }) };
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
    on: {
      keydown: (event) => {
        if (event.key === "Enter") {
          event.preventDefault();
          send();
        }
      },
    },
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

export default { render };
