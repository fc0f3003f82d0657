// One answer to choose.

import { choiceList } from "../shared/choice_list.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { FormOfChoices } from "../types.d.ts"
 *
 * @typedef {FormOfChoices} ChoiceForm
 */

/** @param {ChoiceForm} view */
function render(view) {
  return showForm(view, choiceWork);
}

/** @param {ChoiceForm["model"]} model */
function choiceWork(model) {
  return choiceList(model, model.get("question"), "cf-hidden");
}

export default { initialize: hear, render };
