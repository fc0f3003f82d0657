// A text in the learner's own words, which is saved and not counted as a try.

import { HANDS_OFF, element, freshId } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form } from "../types.d.ts"
 *
 * @typedef {Form<{ longest: number, beside: string[] }, { value: string }, { value: string }>} WrittenForm
 */

const WORDS = {
  press: "Save",
  underWay: "Your text is being saved…",
  notDone:
    "The program does not answer, so your text is not saved yet. Copy it before you do anything else, and put it in again once the program answers.",
  tries: () => "",
};

/** @param {WrittenForm} view */
function render(view) {
  return showForm(view, writtenWork, WORDS);
}

/**
 * @param {WrittenForm["model"]} model
 * @param {() => void} send
 */
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
  const space = element("div", { class: "cf-writing" }, element("label", { for: id }, "Your answer"), area);
  const [title, text] = model.get("beside");
  return {
    root: text ? element("div", { class: "cf-two-pages" }, letter(title, text), space) : space,
    value: () => ({ value: area.value }),
  };
}

// What is answered, to be read while one writes.
/**
 * @param {string} title
 * @param {string} text
 */
function letter(title, text) {
  const heading = freshId("cf-letter");
  return element(
    "article",
    { class: "cf-letter-page", "aria-labelledby": heading },
    element("p", { class: "cf-letter-title", id: heading }, title),
    ...text.split(/\n\n+/).map((paragraph) => element("p", {}, paragraph)),
  );
}

export default { initialize: hear, render };
