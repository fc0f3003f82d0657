// The end of a bench's card: the button that has the work looked over, and what the judge says of it.

import { element, inView, pushButton, setText } from "../shared/elements.js";
import { feedback, points } from "../shared/feedback.js";

/**
 * @import { OrEmpty, Result } from "../types.d.ts"
 *
 * @typedef {Result & { number: number, sentence: string }} Verdict
 */

const UNDER_WAY = "Looking at what you have done…";

export class VerdictPart {
  said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
  result = element("div", { class: "cf-result" });
  asked = false;

  /**
   * @param {number} worth
   * @param {() => void} ask
   */
  constructor(worth, ask) {
    const press = pushButton(
      "Look it over",
      () => {
        this.asked = true;
        this.say("under way", UNDER_WAY);
        ask();
      },
      { class: "cf-press" },
    );
    this.root = element(
      "div",
      { class: "course-form eb-verdict", hidden: !worth },
      element(
        "div",
        { class: "cf-row" },
        press,
        element("span", { class: "cf-worth" }, `Worth ${points(worth)}. The best try counts.`),
      ),
      this.said,
      this.result,
    );
  }

  /** @param {OrEmpty<Verdict>} verdict */
  show(verdict) {
    if (!verdict.sentence) return;
    this.say(verdict.criteria ? "done" : "wrong", verdict.sentence);
    this.result.replaceChildren(...(verdict.criteria ? feedback(verdict) : []));
    if (this.asked) inView(this.said, this.result);
    this.asked = false;
  }

  sayNotDone() {
    if (!this.asked) return;
    this.say(
      "wrong",
      "The program does not answer, so nothing was looked at. Press the button again once it does.",
    );
  }

  /**
   * @param {string} kind
   * @param {string} sentence
   */
  say(kind, sentence) {
    this.said.dataset.kind = kind;
    setText(this.said, sentence);
  }
}
