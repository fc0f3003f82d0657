// A fault to find: inspections that cost minutes, a table of what they told, and the causes to choose from.

import { element, pushButton, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { choiceList } from "../shared/choice_list.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { FormOfChoices } from "../types.d.ts"
 * @import { KernelWatch } from "../shared/kernel_watch.js"
 *
 * @typedef {object} Traits
 * @property {{ id: string, title: string, minutes: number }[]} offered
 * @property {{ title: string, minutes: number, text: string }[]} account
 * @property {number} budget
 *
 * @typedef {{ inspect: string } | { begin: true }} Further
 * @typedef {FormOfChoices<Traits, Further>} DiagnosisForm
 */

/** @param {DiagnosisForm} view */
function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, _send, kernel) => new DiagnosisWork(model, kernel, gone.signal), {
    press: "Name the cause",
  });
  return () => {
    gone.abort();
    leave();
  };
}

class DiagnosisWork {
  /**
   * @param {DiagnosisForm["model"]} model
   * @param {KernelWatch} kernel
   * @param {AbortSignal} gone
   */
  constructor(model, kernel, gone) {
    this.model = model;
    this.kernel = kernel;
    this.choices = choiceList(model, "What is the cause?");
    this.used = element("p", { class: "cf-account" });
    this.looking = element("p", { class: "cf-hint", role: "status", "aria-live": "polite" });
    this.rows = element("tbody");
    this.table = this.findings();
    this.root = this.build();
    const listener = () => this.show();
    model.on("change:account", listener);
    gone.addEventListener("abort", () => model.off("change:account", listener));
    this.show();
  }

  value() {
    return this.choices.value();
  }

  findings() {
    return element(
      "table",
      { class: "cf-findings" },
      element("caption", {}, "What the inspections told"),
      element(
        "thead",
        {},
        element(
          "tr",
          {},
          ...["Inspection", "Minutes", "What it told"].map((text) => element("th", { scope: "col" }, text)),
        ),
      ),
      this.rows,
    );
  }

  build() {
    const buttons = this.model
      .get("offered")
      .map(({ id, title, minutes }) =>
        pushButton(`${title} (${minutes} minutes)`, () => this.inspect(id, title), { "data-inspection": id }),
      );
    return element(
      "div",
      {},
      element(
        "fieldset",
        { class: "cf-inspections" },
        element(
          "legend",
          { class: "cf-hint" },
          "Choose what to look at; each look costs its minutes, each time.",
        ),
        ...buttons,
      ),
      this.looking,
      this.used,
      this.table,
      element(
        "div",
        { class: "cf-row" },
        pushButton("Begin a new account of the same engine", () => this.ask({ begin: true }), {
          class: "cf-begin",
        }),
      ),
      this.choices.root,
    );
  }

  /**
   * @param {string} id
   * @param {string} title
   */
  inspect(id, title) {
    setText(this.looking, `${title}: this takes a moment…`);
    this.ask({ inspect: id });
  }

  /** @param {Further} message */
  ask(message) {
    this.kernel.attemptAndAsk(() => this.model.send(message));
  }

  show() {
    const account = this.model.get("account");
    const used = account.reduce((sum, { minutes }) => sum + minutes, 0);
    const budget = this.model.get("budget");
    setText(
      this.used,
      used > budget
        ? `${used} minutes used: ${used - budget} more than the ${budget} that you have.`
        : `${used} of ${budget} minutes used.`,
    );
    this.rows.replaceChildren(
      ...account.map(({ title, minutes, text }) =>
        element(
          "tr",
          {},
          element("th", { scope: "row" }, title),
          element("td", {}, String(minutes)),
          element("td", {}, text),
        ),
      ),
    );
    this.table.hidden = !account.length;
    const latest = account.at(-1);
    setText(this.looking, latest ? `${latest.title}: ${latest.text}` : "");
  }
}

export default { initialize: hear, render };
