// What every form of a question has in common: prompt, work, the button that records, what was said, what came of
// it, number of tries. A kind brings its own work: `makeWork(model, send)` returns `root`, the elements to work with,
// and `value()`, the answer as it stands.

import { element, freshId, pushButton, setText } from "./elements.js";
import { feedback, points } from "./feedback.js";

export const RECORD = "Record my answer";

export function showForm({ model, el }, makeWork, press = RECORD) {
  const gone = new AbortController();
  el.append(new FormView(model, makeWork, press, gone.signal).root);
  return () => gone.abort();
}

const NO_WORK = { root: null, value: () => null };

class FormView {
  constructor(model, makeWork, press, gone) {
    this.model = model;
    this.kind = model.get("kind");
    const heading = freshId("cf-title");
    // Where there is a problem there is nothing to work on.
    this.work = model.get("problem") ? NO_WORK : makeWork(model, () => this.send());
    this.said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
    this.tries = element("span", { class: "cf-tries" });
    this.result = element("div", { class: "cf-result" });
    this.problem = element("p", { class: "cf-problem", role: "alert", hidden: true });
    this.press = pushButton(press, () => this.send(), { class: "cf-press" });
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
