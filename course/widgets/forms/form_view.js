// What every form of a question has in common: prompt, work, the button that records, what was said, what came of
// it, number of tries. A kind brings its own work: `makeWork(model, send)` returns `root`, the elements to work with,
// and `value()`, the answer as it stands; `makeWork` is given the form's watch over its kernel, too. Where a kind says
// something else than usual, it brings these words.

import { element, freshId, pushButton, setText } from "../shared/elements.js";
import { feedback, points } from "../shared/feedback.js";
import { KernelWatch } from "../shared/kernel_watch.js";

const USUAL = {
  press: "Record my answer",
  underWay: "Your answer is being recorded…",
  notDone: "The program does not answer, so this is not recorded yet. Record it again once it does.",
  heading: (title) => title,
  message: (work) => ({ answer: work.value() }),
  tries: (count) => (!count ? "" : count === 1 ? "1 try so far" : `${count} tries so far`),
  saysSum: true,
};
export const NO_WORK = { root: null, value: () => null };

// `words` are those of USUAL that are other ones in this form.
export function showForm({ model, el }, makeWork, words = {}) {
  const gone = new AbortController();
  el.append(new FormView(model, makeWork, { ...USUAL, ...words }, gone.signal).root);
  return () => gone.abort();
}

class FormView {
  constructor(model, makeWork, words, gone) {
    this.model = model;
    this.words = words;
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
    this.press = pushButton(words.press, () => this.send(), { class: "cf-press" });
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
        class: `course-form cf-${model.get("kind")}`,
        "aria-labelledby": heading,
        "data-exercise": model.get("exercise"),
      },
      element(
        "div",
        { class: "cf-head" },
        element("span", { class: "cf-heading", id: heading }, words.heading(model.get("title"))),
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
    const message = this.words.message(this.work);
    this.waiting = true;
    this.say("under way", this.words.underWay);
    this.watch.attemptAndAsk(() => this.model.send(message));
    if (this.watch.state === "silent") this.sayNotDone();
  }

  say(kind, sentence) {
    this.said.dataset.kind = kind;
    setText(this.said, sentence);
  }

  sayNotDone() {
    this.say("wrong", this.words.notDone);
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
    setText(this.tries, this.words.tries(tries));
  }

  show_result(result) {
    this.result.replaceChildren(...(result.criteria ? feedback(result, this.words.saysSum) : []));
  }

  show_problem(sentence) {
    setText(this.problem, sentence);
    this.problem.hidden = !sentence;
    this.working.hidden = Boolean(sentence);
  }
}
