// The question forms and the check: prompt, work, what came of it, number of tries.

import { HANDS_OFF, element, freshId, pushButton, setText } from "./elements.js";
import { feedback, points } from "./feedback.js";

function render({ model, el }) {
  const gone = new AbortController();
  const form = new FormView(model, gone.signal);
  el.append(form.root);
  return () => gone.abort();
}

const WORK = {
  choice: choiceWork,
  number: numberWork,
  written: writtenWork,
  check: () => ({ root: null, value: () => null }),
};
const PRESS = {
  choice: "Record my answer",
  number: "Record my answer",
  written: "Save",
  check: "Check my work",
};

class FormView {
  constructor(model, gone) {
    this.model = model;
    this.kind = model.get("kind");
    const heading = freshId("cf-title");
    this.work = WORK[this.kind](model, () => this.send());
    this.said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
    this.tries = element("span", { class: "cf-tries" });
    this.result = element("div", { class: "cf-result" });
    this.problem = element("p", { class: "cf-problem", role: "alert", hidden: true });
    this.press = pushButton(PRESS[this.kind], () => this.send(), { class: "cf-press" });
    this.working = element(
      "div",
      {},
      this.work.root,
      element("div", { class: "cf-row" }, this.press, this.tries),
      this.said,
      this.result,
    );
    this.root = element(
      "section",
      {
        class: `course-form cf-${this.kind}`,
        "aria-labelledby": heading,
        "data-exercise": model.get("exercise"),
      },
      element(
        "div",
        { class: "cf-head" },
        element("span", { class: "cf-heading", id: heading }, this.heading()),
        model.get("points") ? element("span", { class: "cf-worth" }, points(model.get("points"))) : null,
      ),
      model.get("question") ? element("p", { class: "cf-question" }, model.get("question")) : null,
      this.problem,
      this.working,
    );
    for (const name of ["said", "tries", "result", "problem"]) this.follow(name, gone);
  }

  heading() {
    const title = this.model.get("title");
    return this.kind === "check" ? `Check: ${title}` : title;
  }

  follow(name, gone) {
    const listener = () => this[`show_${name}`](this.model.get(name));
    this.model.on(`change:${name}`, listener);
    gone.addEventListener("abort", () => this.model.off(`change:${name}`, listener));
    listener();
  }

  send() {
    if (this.kind === "check") {
      setText(this.said, "Looking at what you have done…");
      this.model.send({ check: true });
    } else {
      this.model.send({ answer: this.work.value() });
    }
  }

  show_said(said) {
    setText(this.said, said.sentence ?? "");
    this.said.dataset.kind = said.kind ?? "";
  }

  show_tries(tries) {
    setText(
      this.tries,
      this.kind === "written" || !tries ? "" : tries === 1 ? "1 try so far" : `${tries} tries so far`,
    );
  }

  show_result(result) {
    this.result.replaceChildren(...(result.criteria ? feedback(result, this.kind !== "check") : []));
  }

  show_problem(sentence) {
    setText(this.problem, sentence);
    this.problem.hidden = !sentence;
    this.working.hidden = Boolean(sentence);
  }
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
