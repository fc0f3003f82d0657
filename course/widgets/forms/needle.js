// A live needle to name: the gauge of a running engine, three hands on its throttle, and the patterns to choose from.

import { choiceList } from "../shared/choice_list.js";
import { Dial } from "../bench/dial.js";
import { element, pushButton, setAttribute, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { quantity, chooseUnits, followUnits, unitsOf } from "../shared/units.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { FormOfChoices, OrEmpty } from "../types.d.ts"
 * @import { KernelWatch } from "../shared/kernel_watch.js"
 * @import { VacuumUnit } from "../shared/units.js"
 *
 * @typedef {OrEmpty<{ vacuum_inhg: number | null, heard: string, held: boolean }>} Needle
 * @typedef {{ hand: string }} Hand
 * @typedef {FormOfChoices<{ needle: Needle }, Hand>} NeedleForm
 */

const WATCHING_EVERY_MS = 5000;
/** @type {VacuumUnit[]} */
const VACUUM_UNITS = ["inHg", "kPa"];
const HANDS = { hold: "Hold 2,500 rpm", let_go: "Let go", snap: "Snap the throttle" };

/** @param {NeedleForm} view */
function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, _send, kernel) => new NeedleWork(model, kernel, gone.signal));
  return () => {
    gone.abort();
    leave();
  };
}

class NeedleWork {
  /**
   * @param {NeedleForm["model"]} model
   * @param {KernelWatch} kernel
   * @param {AbortSignal} gone
   */
  constructor(model, kernel, gone) {
    this.model = model;
    this.kernel = kernel;
    this.gone = gone;
    this.unit = unitsOf(model).vacuum;
    this.dial = new Dial("Vacuum gauge", "vacuum", "vacuum");
    this.choices = choiceList(model, "What does this needle do?");
    this.heard = element("span", { class: "eb-heard" });
    this.units = VACUUM_UNITS.map((unit) =>
      pushButton(unit, () => chooseUnits(model, { vacuum: unit }), { "data-unit": unit }),
    );
    this.root = this.build();
    const listener = () => this.show(model.get("needle"));
    model.on("change:needle", listener);
    gone.addEventListener("abort", () => model.off("change:needle", listener));
    followUnits(model, ({ vacuum }) => this.setUnit(vacuum), gone);
    this.watch();
  }

  value() {
    return this.choices.value();
  }

  build() {
    const hands = Object.entries(HANDS).map(([hand, text]) =>
      pushButton(text, () => this.ask({ hand }), { "data-hand": hand }),
    );
    return element(
      "div",
      { class: "cf-needle" },
      element(
        "div",
        { class: "cf-needle-watch" },
        this.dial.root,
        element(
          "div",
          { class: "cf-needle-hands" },
          element("p", {}, "You hear: ", this.heard),
          element("div", { class: "cf-row", role: "group", "aria-label": "Throttle" }, ...hands),
          element("div", { class: "cf-row", role: "group", "aria-label": "Unit of vacuum" }, ...this.units),
        ),
      ),
      this.choices.root,
    );
  }

  /** @param {Hand} message */
  ask(message) {
    this.kernel.attemptAndAsk(() => this.model.send(message));
  }

  // A page that is hidden does not watch; the kernel then stops the engine.
  watch() {
    const beat = () => {
      if (!document.hidden && this.root.isConnected) this.kernel.question();
    };
    const timer = setInterval(beat, WATCHING_EVERY_MS);
    document.addEventListener("visibilitychange", beat, { signal: this.gone });
    this.gone.addEventListener("abort", () => clearInterval(timer));
    requestAnimationFrame(beat);
  }

  /** @param {VacuumUnit} unit */
  setUnit(unit) {
    this.unit = unit;
    this.dial.setScale(quantity(unit));
    for (const button of this.units)
      setAttribute(button, "aria-pressed", String(button.dataset.unit === unit));
    this.show(this.model.get("needle"));
  }

  /** @param {Needle} needle */
  show(needle) {
    const vacuum = needle.vacuum_inhg ?? null;
    this.dial.set(
      vacuum === null ? null : quantity(this.unit).of(vacuum),
      "not running",
      needle.held ? "held at 2,500 rpm" : "at idle",
    );
    setText(this.heard, needle.heard ?? "nothing yet");
  }
}

export default { initialize: hear, render };
