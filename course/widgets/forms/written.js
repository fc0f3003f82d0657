// A text in the learner's own words, which is saved and not counted as a try. Somebody who learns alone sees, once it is
// saved, by what it would be marked, and samples, and can mark it: counted apart, for nobody else.

import { HANDS_OFF, element, freshId, pushButton } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form } from "../types.d.ts"
 *
 * @typedef {{ id: string, title: string, points: number, levels: string[] }} MarkedFor
 * @typedef {{ to: string, text: string, marks: string, why: string, points: string }} MarkedSample
 * @typedef {Record<string, number>} Marks
 * @typedef {Form<
 *   { longest: number, beside: string[], marking: MarkedFor[], samples: MarkedSample[], own: Marks },
 *   { value: string },
 *   { value: string },
 *   { own_marks: Marks }
 * >} WrittenForm
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
  const alone = element("div", { class: "cf-alone" });
  const show = () => alone.replaceChildren(...markedAlone(model));
  model.on("change:marking", show);
  model.on("change:samples", show); // they come after the table, in a message of their own
  model.on("change:own", show);
  show();
  const pages = text ? element("div", { class: "cf-two-pages" }, letter(title, text), space) : space;
  return {
    root: pages,
    after: alone,
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

/** @param {WrittenForm["model"]} model */
function markedAlone(model) {
  const marking = model.get("marking");
  if (!marking.length) return [];
  const own = model.get("own");
  /** @type {Marks} */
  const chosen = { ...own };
  const rows = marking.map((one) => {
    const name = freshId("cf-mark");
    const levels = one.levels.map((words, level) => {
      const points = (one.points * level) / (one.levels.length - 1);
      const pick = element("input", {
        type: "radio",
        name,
        value: String(points),
        ...HANDS_OFF,
        on: { change: () => (chosen[one.id] = points) },
      });
      pick.checked = own[one.id] === points;
      return element("label", { class: "cf-level" }, pick, ` ${points}: ${words}`);
    });
    return element("fieldset", { class: "cf-mark" }, element("legend", {}, one.title), ...levels);
  });
  const samples = model
    .get("samples")
    .map((one) =>
      element(
        "details",
        { class: "cf-sample" },
        element("summary", {}, `A sample, to ${one.to}: ${one.points}`),
        element("blockquote", {}, one.text),
        element("p", {}, one.marks),
        element("p", {}, one.why),
      ),
    );
  const answered = [...new Set(model.get("samples").map((one) => one.to))].join("; ");
  const about = answered
    ? [
        element(
          "p",
          {},
          `The samples below answer ${answered}, each with its marks and why. Look how a danger is stopped, what is asked for, and in what order the steps come. Then look for the same in your own text; there are other good answers.`,
        ),
      ]
    : [];
  return [
    element("h4", { class: "cf-alone-title" }, "You learn alone: mark it yourself"),
    element(
      "p",
      {},
      "Read your text as its reader would. Your marks are for you: they are kept, and counted apart from the points that the program gives.",
    ),
    ...rows,
    element(
      "div",
      { class: "cf-row" },
      pushButton("Save my marks", () => model.send({ own_marks: chosen }), { class: "cf-press" }),
    ),
    ...about,
    ...samples,
  ];
}

export default { initialize: hear, render };
