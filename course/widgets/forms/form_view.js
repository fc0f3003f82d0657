// What every form of a question has in common: prompt, work, the button that records, what was said, what came of
// it, number of tries. A kind brings its own work: `makeWork(model, send)` returns `root`, the elements to work with,
// and `value()`, the answer as it stands; `makeWork` is given the form's watch over its kernel, too.

import { element, freshId, pushButton, setText } from "../shared/elements.js";
import { feedback, points } from "../shared/feedback.js";
import { KernelWatch } from "../shared/kernel_watch.js";

const UNDER_WAY = {
  check: "Looking at what you have done…",
  written: "Your text is being saved…",
};
const NOT_DONE = {
  check: "The program does not answer, so nothing was checked. Press the button again once it does.",
  written:
    "The program does not answer, so your text is not saved yet. Copy it before you do anything else, and put it in again once the program answers.",
};
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
    this.watch = new KernelWatch(
      (number) => model.send({ heartbeat: number }),
      (state, sentence) => this.showKernel(state, sentence),
      gone,
    );
    // Where there is a problem there is nothing to work on.
    this.work = model.get("problem") ? NO_WORK : makeWork(model, () => this.send(), this.watch);
    this.said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
    this.tries = element("span", { class: "cf-tries" });
    this.result = element("div", { class: "cf-result" });
    this.problem = element("p", { class: "cf-problem", role: "alert", hidden: true });
    this.kernel = element("p", { class: "cf-problem cf-kernel", role: "alert", hidden: true });
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
      this.kernel,
      this.working,
    );
    this.listenToAnswers(gone);
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

  listenToAnswers(gone) {
    const listener = (answer) => answer.alive && this.watch.answered(answer.alive);
    this.model.on("msg:custom", listener);
    gone.addEventListener("abort", () => this.model.off("msg:custom", listener));
  }

  // A press is answered at once; what comes of it is the kernel's to say.
  send() {
    const message = this.kind === "check" ? { check: true } : { answer: this.work.value() };
    this.waiting = true;
    this.say("under way", UNDER_WAY[this.kind] ?? "Your answer is being recorded…");
    this.watch.attemptAndAsk(() => this.model.send(message));
    if (this.watch.state === "silent") this.sayNotDone();
  }

  say(kind, sentence) {
    this.said.dataset.kind = kind;
    setText(this.said, sentence);
  }

  sayNotDone() {
    this.say(
      "wrong",
      NOT_DONE[this.kind] ??
        "The program does not answer, so this is not recorded yet. Record it again once it does.",
    );
  }

  showKernel(state, sentence) {
    setText(this.kernel, sentence);
    this.kernel.hidden = state === "answers";
    this.root.classList.toggle("eb-silent", state === "silent");
    if (state === "silent" && this.waiting) this.sayNotDone();
  }

  show_said(said) {
    this.waiting = false;
    this.say(said.kind ?? "", said.sentence ?? "");
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
