// What every form of a question has in common: prompt, work, the button that records, what was said, what came of
// it, number of tries. A kind brings its own work: `makeWork(model, send)` returns `root`, the elements to work with,
// and `value()`, the answer as it stands; `makeWork` is given the form's watch over its kernel, too. Where a kind says
// something else than usual, it brings these words.

import { element, freshId, inView, pushButton, setText } from "../shared/elements.js";
import { feedback, points } from "../shared/feedback.js";
import { KernelWatch } from "../shared/kernel_watch.js";

/**
 * @import { Alive, AnyForm, FormTraits, MakeWork, OrEmpty, Result, Said, Words, Work } from "../types.d.ts"
 * @import { KernelState } from "../shared/kernel_watch.js"
 */

/** @type {Words} */
const USUAL = {
  press: "Record my answer",
  underWay: "Your answer is being recorded…",
  notDone: "The program does not answer, so this is not recorded yet. Record it again once it does.",
  heading: (title) => title,
  message: (work) => ({ answer: work.value() }),
  tries: (count) => (!count ? "" : count === 1 ? "1 try so far" : `${count} tries so far`),
};
/** @type {Work<null>} */
const NO_WORK = { root: null, value: () => null };

// `words` are those of USUAL that are other ones in this form.
/**
 * @template {AnyForm} OfForm
 * @param {OfForm} view
 * @param {MakeWork<OfForm>} makeWork
 * @param {Partial<Words<OfForm>>} words
 */
export function showForm({ model, el }, makeWork, words = {}) {
  const gone = new AbortController();
  // One view shows forms of every kind: which answer a kind sends is checked where it calls this function.
  const ofAnyForm = /** @type {MakeWork<AnyForm>} */ (makeWork);
  el.append(new FormView(model, ofAnyForm, { ...USUAL, ...words }, gone.signal).root);
  return () => gone.abort();
}

class FormView {
  /**
   * @param {AnyForm["model"]} model
   * @param {MakeWork<AnyForm>} makeWork
   * @param {Words} words
   * @param {AbortSignal} gone
   */
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
      this.work.after ?? null,
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
    this.follow("said", (said) => this.showSaid(said), gone);
    this.follow("tries", (tries) => setText(this.tries, words.tries(tries)), gone);
    this.follow("result", (result) => this.showResult(result), gone);
    this.follow("problem", (sentence) => this.showProblem(sentence), gone);
  }

  /**
   * @template {keyof FormTraits & string} Name
   * @param {Name} name
   * @param {(value: FormTraits[Name]) => void} update
   * @param {AbortSignal} gone
   */
  follow(name, update, gone) {
    const listener = () => update(this.model.get(name));
    this.model.on(`change:${name}`, listener);
    gone.addEventListener("abort", () => this.model.off(`change:${name}`, listener));
    listener();
  }

  /** @param {AbortSignal} gone */
  listenToAnswers(gone) {
    const listener = (/** @type {Alive} */ answer) => answer.alive && this.watch.answered(answer.alive);
    this.model.on("msg:custom", listener);
    gone.addEventListener("abort", () => this.model.off("msg:custom", listener));
  }

  // A press is answered at once; what comes of it is the kernel's to say.
  send() {
    const message = this.words.message(this.work);
    this.waiting = this.asked = true;
    this.say("under way", this.words.underWay);
    this.watch.attemptAndAsk(() => this.model.send(message));
    if (this.watch.state === "silent") this.sayNotDone();
  }

  /**
   * @param {string} kind
   * @param {string} sentence
   */
  say(kind, sentence) {
    this.said.dataset.kind = kind;
    setText(this.said, sentence);
  }

  sayNotDone() {
    this.say("wrong", this.words.notDone);
  }

  /**
   * @param {KernelState} state
   * @param {string} sentence
   */
  showKernel(state, sentence) {
    setText(this.kernel, sentence);
    this.kernel.hidden = state === "answers";
    this.root.classList.toggle("eb-silent", state === "silent");
    if (state === "silent" && this.waiting) this.sayNotDone();
  }

  /** @param {OrEmpty<Said>} said */
  showSaid(said) {
    this.waiting = false;
    this.say(said.kind ?? "", said.sentence ?? "");
  }

  /** @param {OrEmpty<Result>} result */
  showResult(result) {
    this.result.replaceChildren(...(result.criteria ? feedback(result) : []));
    if (this.asked) inView(this.said, this.result);
    this.asked = false;
  }

  /** @param {string} sentence */
  showProblem(sentence) {
    setText(this.problem, sentence);
    this.problem.hidden = !sentence;
    this.working.hidden = Boolean(sentence);
  }
}
