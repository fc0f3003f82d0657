// The learner's own check of an exercise: a button, and what the judge says.

import { NO_WORK, showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Alive, FormTraits, Heartbeat, View, Words } from "../types.d.ts"
 *
 * @typedef {View<FormTraits<never>, Heartbeat | { check: true }, Alive>} CheckCard
 */

/** @type {Partial<Words<CheckCard>>} */
const WORDS = {
  press: "Look it over",
  underWay: "Looking at what you have done…",
  notDone: "The program does not answer, so nothing was checked. Press the button again once it does.",
  heading: (title) => `Check: ${title}`,
  message: () => ({ check: true }),
  saysSum: false, // the sentence above the list says it
};

/** @param {CheckCard} view */
function render(view) {
  return showForm(view, () => NO_WORK, WORDS);
}

export default { initialize: hear, render };
