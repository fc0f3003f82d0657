// The engine on the screen: the whole engine, and the part in hand with a real control for all that can be moved.
// The pictures follow the state and compute nothing of the engine.
//
// `new EngineScene({ controls, act, say, facts })`: the controls as the kernel describes them, where acts go, where a
// sentence is said, and what the card tells. Then `show(state)`, `lookAt(phase)`, and `element` to put on the page.

import { element, freshId, pushButton, setAttribute, setText } from "../../shared/elements.js";
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

// What the nameplate tells of the engine, as far as it is drawn.
/**
 * @param {Pair[]} nameplate
 * @returns {Facts}
 */
export function factsOn(nameplate) {
  const lines = new Map(nameplate);
  const word = (/** @type {string} */ name, /** @type {RegExp} */ pattern) => {
    const found = lines.get(name)?.match(pattern)?.[0];
    if (!found)
      throw new Error(`The nameplate should say '${name}'; it has ${[...lines.keys()].join(", ")}.`);
    return found;
  };
  return {
    cylinders: Number(word("Cylinders", /^\d+/)),
    rotor_turns: word("Rotor turns", /^(?:anti)?clockwise/),
    vacuum_source: word("Vacuum advance", /ported|manifold/),
  };
}

export class EngineScene {
  /** @type {SceneState | null} */
  state = null;
  title = element("div", { class: "es-title", id: freshId("es-title") });
  view = element("div", { class: "es-view" });
  rows = element("div", { class: "es-rows" });

  /** @param {Workplace} place */
  constructor(place) {
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
    this.element = element(
      "div",
      { class: "engine-scene" },
      element(
        "div",
        { class: "es-both" },
        element(
          "div",
          { class: "es-whole" },
          this.overview.root,
          element(
            "div",
            { class: "es-looks", role: "group", "aria-label": "Part to look at" },
            ...this.chooser,
          ),
        ),
        element(
          "div",
          { class: "es-part-in-hand", role: "group", "aria-labelledby": this.title.id },
          this.title,
          this.view,
          this.rows,
        ),
      ),
    );
    this.lookAt(this.chosen.name);
  }

  // Turn to the part of a phase; a word that is neither a phase nor a part leaves the view as it is.
  /** @param {string} phase */
  lookAt(phase) {
    const name = SEEN_IN_PHASE[phase] ?? phase;
    const chosen = this.closeUps.find((one) => one.name === name);
    if (!chosen || (chosen === this.chosen && this.chosen.picture.isConnected)) return; // keeps the focus where it is
    this.chosen = chosen;
    setText(this.title, this.chosen.title);
    this.view.replaceChildren(this.chosen.picture);
    this.rows.replaceChildren(...this.chosen.handles.map((handle) => handle.row));
    for (const button of this.chooser)
      setAttribute(button, "aria-pressed", String(button.dataset.look === this.chosen.name));
    this.overview.light(this.chosen.name);
    if (this.state) this.show(this.state);
  }

  /** @param {SceneState} state */
  show(state) {
    this.state = state;
    this.overview.show(state);
    this.chosen.show(state);
    for (const handle of this.chosen.handles) handle.show(state.settings);
  }
}
