// The engine on the screen: the whole engine, and the part in hand, which is worked on its picture as with the control
// beside it. The pictures follow the state and compute nothing of the engine.
//
// `new EngineScene({ controls, act, say, facts, handle })`: the controls as the kernel describes them, where acts go,
// where a sentence is said, what the card tells, and the sliders of what is turned. Then `show(state)`, `lookAt(phase)`,
// `follow(control)`, and `element` to put on the page.

import { element, pushButton, setAttribute } from "../../shared/elements.js";
import { carburettorScrews } from "./carburettor_screws.js";
import { distributorFromAbove } from "./distributor_from_above.js";
import { hoseEnds } from "./hose_ends.js";
import { Overview } from "./overview.js";
import { pulleyAndPointer } from "./pulley_and_pointer.js";
import { seatAndRoad } from "./seat_and_road.js";
import { terminals } from "./terminals.js";

/**
 * @import { Pair } from "../../types.d.ts"
 * @import { CloseUp, Facts, SceneState, Workplace } from "./handles.js"
 */

// Which close-up a phase of the work begins with; the names of close-ups lead to themselves.
/** @type {Record<string, string>} */
const SEEN_IN_PHASE = {
  "make safe": "seat",
  "hook up": "hoses",
  "at rest": "terminals",
  run: "seat",
  set: "distributor",
  drive: "seat",
};

// What the nameplate tells of the engine, as far as it is drawn; null where it does not say how many cylinders there are.
/**
 * @param {Pair[]} nameplate
 * @returns {Facts | null}
 */
export function factsOn(nameplate) {
  const lines = new Map(nameplate);
  const word = (/** @type {string} */ name, /** @type {RegExp} */ pattern) =>
    lines.get(name)?.match(pattern)?.[0];
  const cylinders = word("Cylinders", /^\d+/);
  if (!cylinders) return null;
  return {
    cylinders: Number(cylinders),
    rotor_turns: word("Rotor turns", /^(?:anti)?clockwise/),
    vacuum_source: word("Vacuum advance", /ported|manifold/),
  };
}

export class EngineScene {
  /** @type {SceneState | null} */
  state = null;
  rotor = false;
  view = element("div", { class: "es-view" });

  /** @param {Workplace} place */
  constructor(place) {
    this.facts = place.facts;
    /** @type {CloseUp[]} */
    this.closeUps = [
      seatAndRoad(place),
      hoseEnds(place),
      terminals(place),
      distributorFromAbove(place),
      carburettorScrews(place),
      pulleyAndPointer(place),
    ];
    this.chosen = this.closeUps[0];
    this.overview = new Overview(place.facts, (name) => this.lookAt(name));
    this.chooser = this.closeUps.map((one) =>
      pushButton(one.called, () => this.lookAt(one.name), {
        class: "es-look",
        "aria-pressed": "false",
        "data-look": one.name,
      }),
    );
    this.arrow = pushButton("Rotor", () => this.tellRotor(), {
      class: "es-switch",
      "aria-label": "Rotor: show which way it turns",
      "aria-pressed": "false",
      hidden: !place.facts.rotor_turns,
    });
    this.element = element(
      "div",
      { class: "engine-scene" },
      element("div", { class: "es-looks", role: "group", "aria-label": "Part to look at" }, ...this.chooser),
      this.view,
      element(
        "div",
        { class: "es-whole" },
        this.overview.root,
        element("div", { class: "es-switches" }, this.labelSwitch(), this.arrow),
      ),
    );
    this.lookAt(this.chosen.name);
  }

  labelSwitch() {
    const names = pushButton(
      "Labels",
      () => {
        const off = this.element.classList.toggle("es-unlabelled");
        setAttribute(names, "aria-pressed", String(!off));
      },
      { class: "es-switch", "aria-pressed": "true" },
    );
    return names;
  }

  // The arrow of rotation stands in the picture after the learner has looked it up, on the nameplate.
  tellRotor() {
    this.rotor = !this.rotor;
    setAttribute(this.arrow, "aria-pressed", String(this.rotor));
    if (this.rotor) this.lookAt("distributor");
    if (this.state) this.show(this.state);
  }

  // Turn to the part of a phase; a word that is neither a phase nor a part leaves the view as it is.
  /** @param {string} phase */
  lookAt(phase) {
    const name = SEEN_IN_PHASE[phase] ?? phase;
    const chosen = this.closeUps.find((one) => one.name === name);
    if (!chosen || (chosen === this.chosen && this.chosen.picture.isConnected)) return;
    this.chosen = chosen;
    this.view.replaceChildren(this.chosen.picture);
    for (const button of this.chooser)
      setAttribute(button, "aria-pressed", String(button.dataset.look === this.chosen.name));
    this.overview.light(this.chosen.name);
    if (this.state) this.show(this.state);
  }

  // Turn to the part that a control works, where it is not in the picture already.
  /** @param {string} control */
  follow(control) {
    if (this.chosen.controls.includes(control)) return;
    const there = this.closeUps.find((one) => one.controls.includes(control));
    if (there) this.lookAt(there.name);
  }

  /** @param {SceneState} state */
  show(state) {
    this.state = state;
    this.overview.show(state);
    this.chosen.show({ ...state, arrow: this.rotor ? this.facts.rotor_turns : undefined });
  }
}
