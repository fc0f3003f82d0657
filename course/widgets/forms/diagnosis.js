// A fault to find: a table of inspections with their minutes and what they told, and the causes to choose from.

import { HANDS_OFF, drawing, element, pushButton, setAttribute, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { choiceList } from "../shared/choice_list.js";
import { Dial } from "../bench/dial.js";
import { followUnits, quantity, unitsOf } from "../shared/units.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { FormOfChoices } from "../types.d.ts"
 * @import { KernelWatch } from "../shared/kernel_watch.js"
 * @import { OnAGauge, VacuumUnit } from "../shared/units.js"
 *
 * @typedef {[when: string, lowest: number, highest: number]} SeenOnGauge
 * @typedef {{ id: string, title: string, minutes: number }} Offered
 * @typedef {Offered & { text: string, seen: SeenOnGauge[] }} Line
 *
 * @typedef {object} Traits
 * @property {Offered[]} offered
 * @property {Line[]} account
 * @property {number} budget
 *
 * @typedef {{ inspect: string } | { begin: true }} Further
 * @typedef {FormOfChoices<Traits, Further>} DiagnosisForm
 */

const SWEPT_AT = 87; // radius of the band that the needle went over; the face has 91
const MOVES_INHG = 0.6; // below which a needle stood still

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
    this.looking = element("p", { class: "cf-hidden", role: "status", "aria-live": "polite" });
    this.rows = new Map(
      model.get("offered").map((offered) => [offered.id, new Row(offered, () => this.inspect(offered))]),
    );
    this.root = element(
      "div",
      {},
      this.used,
      this.table(),
      this.looking,
      this.beginAgain(),
      this.choices.root,
    );
    const listener = () => this.show();
    model.on("change:account", listener);
    gone.addEventListener("abort", () => model.off("change:account", listener));
    followUnits(model, listener, gone);
  }

  value() {
    return this.choices.value();
  }

  table() {
    return element(
      "table",
      { class: "cf-findings" },
      element("caption", {}, "Choose what to look at; each look costs its minutes, each time."),
      element(
        "thead",
        {},
        element(
          "tr",
          {},
          ...["Inspection", "Minutes", "What it told"].map((text) => element("th", { scope: "col" }, text)),
        ),
      ),
      element("tbody", {}, ...[...this.rows.values()].map(({ root }) => root)),
    );
  }

  beginAgain() {
    return element(
      "div",
      { class: "cf-row" },
      pushButton("Begin a new account of the same engine", () => this.ask({ begin: true }), {
        class: "cf-begin",
      }),
    );
  }

  /** @param {Offered} offered */
  inspect({ id, title }) {
    this.looking.className = "cf-hint";
    setText(this.looking, `${title}: this takes a moment…`);
    this.rows.get(id)?.wait();
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
    for (const [id, row] of this.rows)
      row.show(
        account.filter((line) => line.id === id),
        unitsOf(this.model).vacuum,
      );
    const latest = account.at(-1);
    this.looking.className = "cf-hidden"; // to be heard: it stands in its row
    setText(this.looking, latest ? `${latest.title}: ${latest.text}` : "");
  }
}

// One inspection: what it costs, a button, and once it was made a mark and what it told.
class Row {
  /**
   * @param {Offered} offered
   * @param {() => void} inspect
   */
  constructor({ id, title, minutes }, inspect) {
    this.minutes = minutes;
    this.press = pushButton("Look", inspect, {
      ...HANDS_OFF,
      "data-inspection": id,
      "aria-label": `Look: ${title}`,
    });
    this.mark = element("span", { class: "cf-made", role: "img", "aria-label": "made", hidden: true }, "✓");
    this.cost = element("td", { class: "cf-cost", "data-called": "Minutes" });
    this.told = element("td", { class: "cf-told-by" });
    this.title = title;
    this.root = element("tr", {}, element("th", { scope: "row" }, this.mark, title), this.cost, this.told);
  }

  wait() {
    setText(this.press, "Looking…");
  }

  // The looks of the account that is open; each tells the same.
  /**
   * @param {Line[]} looks
   * @param {VacuumUnit} unit
   */
  show(looks, unit) {
    const made = looks.length > 0;
    setAttribute(this.root, "data-made", String(made));
    this.mark.hidden = !made;
    setText(this.press, made ? "Look again" : "Look");
    setAttribute(this.press, "aria-label", `${made ? "Look again" : "Look"}: ${this.title}`);
    setText(this.cost, looks.length > 1 ? `${looks.length} × ${this.minutes}` : String(this.minutes));
    const found = made ? [element("p", {}, looks[0].text), gauges(looks[0].seen, quantity(unit))] : [];
    this.told.replaceChildren(...found, this.press);
  }
}

// The gauge as it was seen: the needle in the middle of the band over which it went.
/**
 * @param {SeenOnGauge[]} seen
 * @param {OnAGauge} unit
 */
function gauges(seen, unit) {
  return element(
    "div",
    { class: "cf-gauges", "aria-hidden": "true" },
    ...seen.map(([when, lowest, highest]) => {
      const dial = new Dial(when, "vacuum", "vacuum");
      dial.setScale(unit);
      dial.set(unit.of((lowest + highest) / 2), "");
      if (highest - lowest > MOVES_INHG)
        dial.root.querySelector(".eb-face")?.append(swept(dial, unit.of(lowest), unit.of(highest)));
      return element("figure", {}, dial.root, element("figcaption", {}, when));
    }),
  );
}

/**
 * @param {Dial} dial
 * @param {number} low
 * @param {number} high
 */
function swept(dial, low, high) {
  const at = (/** @type {number} */ value) => {
    const turn = (dial.angle(value) * Math.PI) / 180;
    return `${(SWEPT_AT * Math.sin(turn)).toFixed(1)} ${(-SWEPT_AT * Math.cos(turn)).toFixed(1)}`;
  };
  const far = dial.angle(high) - dial.angle(low) > 180 ? 1 : 0;
  return drawing("path", {
    class: "cf-swept",
    d: `M ${at(low)} A ${SWEPT_AT} ${SWEPT_AT} 0 ${far} 1 ${at(high)}`,
  });
}

export default { initialize: hear, render };
