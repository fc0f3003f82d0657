// The end of a bench's card: the button that has the work looked over, what the judge says of it, and the one that
// closes the try to see what the engine does.

import { element, inView, pushButton, setText } from "../shared/elements.js";
import { feedback, points } from "../shared/feedback.js";

/**
 * @import { OrEmpty, Result } from "../types.d.ts"
 *
 * @typedef {Result & { number: number, sentence: string, closed: boolean, picture: string }} Verdict
 * @typedef {{ look_over: true } | { close: true }} Asked
 */

const UNDER_WAY = "Looking at what you have done…";
const NOT_DONE =
  "The program does not answer, so nothing was looked at. Press the button again once it does.";
const CLOSES =
  "You will see this engine's own curve, where the method ends and where you left it. What you do at this engine after that earns nothing more; a new try is at another engine.";

export class VerdictPart {
  said = element("p", { class: "cf-said", role: "status", "aria-live": "polite" });
  result = element("div", { class: "cf-result" });
  asked = false;

  /**
   * @param {number} worth
   * @param {boolean} closes
   * @param {(message: Asked) => void} send
   */
  constructor(worth, closes, send) {
    this.send = send;
    this.close = this.closing();
    this.close.hidden = !closes;
    this.root = element(
      "div",
      { class: "course-form eb-verdict", hidden: !worth },
      element(
        "div",
        { class: "cf-row" },
        pushButton("Look it over", () => this.ask({ look_over: true }), { class: "cf-press" }),
        element("span", { class: "cf-worth" }, `Worth ${points(worth)}. The best try counts.`),
        this.close,
      ),
      this.said,
      this.result,
    );
  }

  closing() {
    const no = pushButton("No, go on", () => show(false), { class: "eb-plain" });
    const yes = pushButton(
      "Yes, close and show me",
      () => {
        show(false);
        this.ask({ close: true });
      },
      { class: "eb-plain" },
    );
    const sure = element("span", { class: "eb-ask", hidden: true }, element("span", {}, CLOSES), yes, no);
    const open = pushButton("Close this exercise and show me", () => show(true), { class: "eb-plain" });
    const show = (/** @type {boolean} */ asking) => {
      sure.hidden = !asking;
      open.hidden = asking;
      (asking ? no : open).focus();
    };
    return element("span", { class: "eb-close" }, open, sure);
  }

  /** @param {Asked} message */
  ask(message) {
    this.asked = true;
    this.say("under way", UNDER_WAY);
    this.send(message);
  }

  /** @param {OrEmpty<Verdict>} verdict */
  show(verdict) {
    if (!verdict.sentence) return;
    this.say(verdict.criteria ? "done" : "wrong", verdict.sentence);
    this.result.replaceChildren(...(verdict.criteria ? [...pictureOf(verdict), ...feedback(verdict)] : []));
    if (this.asked) inView(this.said, this.result);
    this.asked = false;
  }

  sayNotDone() {
    if (this.asked) this.say("wrong", NOT_DONE);
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

// The picture is text of our own program, of numbers alone.
/** @param {Verdict} verdict */
function pictureOf({ picture, closed }) {
  const figure = new DOMParser().parseFromString(picture, "text/html").body.firstElementChild;
  if (!figure && !closed) return [];
  const words = closed
    ? "This try is closed: what you do at this engine now is practice and earns nothing. Press New try for another engine."
    : "Full marks: this is what the engine does.";
  return [element("p", {}, words), ...(figure ? [figure] : [])];
}
