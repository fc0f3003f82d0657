// One button that makes the file to hand in or, at a class's hub, hands the lesson in. What is missing is listed first,
// and a second press does it all the same.

import { element, freshId, pushButton, setText } from "../shared/elements.js";
import { KernelWatch } from "../shared/kernel_watch.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { UnitChoice } from "../shared/units.js"
 * @import { Alive, Heartbeat, View } from "../types.d.ts"
 *
 * @typedef {object} Traits
 * @property {string} connection
 * @property {Partial<UnitChoice>} chosen_units
 * @property {string} lesson
 * @property {string} learner
 * @property {boolean} at_hub
 * @property {"begin" | "ask" | "made"} step
 * @property {string[]} missing
 * @property {string} name
 * @property {DataView<ArrayBuffer>} content
 * @property {string} said
 * @property {string} problem
 *
 * @typedef {"look" | "make"} Press
 * @typedef {View<Traits, Heartbeat | { press: Press }, Alive>} HandInCard
 */

const BY_FILE = {
  first: "Make the file to hand in",
  anyway: "Make it all the same",
  again: "Make it again",
  about: "Make one file of this lesson and of your work, and upload or send that file.",
  failed: "The program does not answer, so no file was made. Press the button again once it does.",
};
const AT_HUB = {
  first: "Hand in this lesson",
  anyway: "Hand it in all the same",
  again: "Hand it in again",
  about:
    "One press gives your work to your instructor. You may hand in again at any time: the newest one counts.",
  failed: "The program does not answer, so nothing was handed in. Press the button again once it does.",
};

/** @param {HandInCard} view */
function render({ model, el }) {
  const gone = new AbortController();
  const words = model.get("at_hub") ? AT_HUB : BY_FILE;
  const heading = freshId("hi-title");
  const notebook = !document.body.classList.contains("plain-page");
  const list = element("ul");
  const said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
  const problem = element("p", { class: "cf-problem", role: "alert", hidden: true });
  const kernel = element("p", { class: "cf-problem cf-kernel", role: "alert", hidden: true });
  const watch = new KernelWatch(
    (number) => model.send({ heartbeat: number }),
    (state, sentence) => {
      setText(kernel, sentence);
      kernel.hidden = state === "answers";
      if (state === "silent") setText(said, words.failed);
    },
    gone.signal,
  );
  const press = (/** @type {Press} */ what) => {
    setText(said, "Looking through your work…");
    watch.attemptAndAsk(() => model.send({ press: what }));
    if (watch.state === "silent") setText(said, words.failed);
  };
  const first = pushButton(words.first, () => press("look"), { class: "cf-press" });
  const anyway = pushButton(words.anyway, () => press("make"));
  const copy = pushButton("Save a copy", () => saveCopy(model));
  const show = () => {
    const step = model.get("step");
    setText(first, step === "begin" ? words.first : step === "ask" ? "Look again" : words.again);
    anyway.hidden = step !== "ask";
    copy.hidden = step !== "made" || model.get("at_hub");
    list.replaceChildren(...model.get("missing").map((sentence) => element("li", {}, sentence)));
    setText(said, model.get("said"));
    setText(problem, model.get("problem"));
    problem.hidden = !model.get("problem");
  };
  // A press that brings nothing new changes no trait: the answer behind it shows what there is again.
  const answered = (/** @type {Alive} */ answer) => {
    if (!answer.alive) return;
    watch.answered(answer.alive);
    show();
  };
  model.on("change", show);
  model.on("msg:custom", answered);
  gone.signal.addEventListener("abort", () => {
    model.off("change", show);
    model.off("msg:custom", answered);
  });
  show();
  el.append(
    element(
      "section",
      { class: "course-form cf-hand-in", "aria-labelledby": heading },
      element(
        "div",
        { class: "cf-head" },
        element("span", { class: "cf-heading", id: heading }, "Hand in this lesson"),
        element("span", { class: "cf-worth" }, model.get("learner")),
      ),
      element(
        "p",
        { class: "cf-question" },
        notebook ? `Save the notebook first. ${words.about}` : words.about,
      ),
      problem,
      kernel,
      said,
      list,
      element("div", { class: "cf-row" }, first, anyway, copy),
    ),
  );
  return () => gone.abort();
}

/** @param {HandInCard["model"]} model */
function saveCopy(model) {
  const address = URL.createObjectURL(new Blob([model.get("content")], { type: "application/zip" }));
  element("a", { href: address, download: model.get("name") }).click();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
}

export default { initialize: hear, render };
