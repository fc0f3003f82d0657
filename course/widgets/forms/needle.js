// A live needle to name: the gauge of a running engine, three hands on its throttle, and the patterns to choose from.

import { choiceList } from "../shared/choice_list.js";
import { Dial } from "../bench/dial.js";
import { element, pushButton, setAttribute, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { inWords, quantity, readChoice, storeChoice } from "../shared/units.js";
import { hear } from "../shared/late_start.js";

const WATCHING_EVERY_MS = 5000;
const HANDS = { hold: "Hold 2,500 rpm", let_go: "Let go", snap: "Snap the throttle" };

function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, _send, kernel) => new NeedleWork(model, kernel, gone.signal));
  return () => {
    gone.abort();
    leave();
  };
}

class NeedleWork {
  constructor(model, kernel, gone) {
    this.model = model;
    this.kernel = kernel;
    this.gone = gone;
    this.unit = readChoice().vacuum;
    this.dial = new Dial("Vacuum gauge", "vacuum");
    this.choices = choiceList(model, "What does this needle do?");
    this.root = this.build();
    this.rescale();
    this.follow("needle", (needle) => this.show(needle));
    this.watch();
  }

  value() {
    return this.choices.value();
  }

  build() {
    this.heard = element("span", { class: "eb-heard" });
    const hands = Object.entries(HANDS).map(([hand, text]) =>
      pushButton(text, () => this.ask({ hand }), { "data-hand": hand }),
    );
    this.units = ["inHg", "kPa"].map((unit) =>
      pushButton(unit, () => this.setUnit(unit), { "data-unit": unit }),
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

  follow(name, update) {
    const listener = () => update(this.model.get(name));
    this.model.on(`change:${name}`, listener);
    this.gone.addEventListener("abort", () => this.model.off(`change:${name}`, listener));
    listener();
  }

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

  setUnit(unit) {
    this.unit = unit;
    storeChoice({ ...readChoice(), vacuum: unit });
    this.rescale();
    this.show(this.model.get("needle"));
  }

  rescale() {
    const { top, major, minor } = quantity(this.unit);
    this.dial.setScale(top, major, minor);
    for (const button of this.units)
      setAttribute(button, "aria-pressed", String(button.dataset.unit === this.unit));
  }

  show(needle) {
    const vacuum = needle.vacuum_inhg ?? null;
    this.dial.set(
      vacuum === null ? null : quantity(this.unit).of(vacuum),
      inWords(vacuum, this.unit, "not running"),
      needle.held ? "held at 2,500 rpm" : "at idle",
    );
    setText(this.heard, needle.heard ?? "nothing yet");
  }
}

export default { initialize: hear, render };
