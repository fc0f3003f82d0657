// One answer to choose.

import { choiceList } from "../shared/choice_list.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

function render(view) {
  return showForm(view, choiceWork);
}

function choiceWork(model) {
  return choiceList(model, model.get("question"), "cf-hidden");
}

export default { initialize: hear, render };
