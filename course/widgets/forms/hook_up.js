// Which hose goes where: a list for every hose, and a picture on which hoses are taken and put on by the pointer.

import { HANDS_OFF, element, freshId, setText } from "../shared/elements.js";
import { showForm } from "./form_view.js";
import { HosePicture } from "./hose_picture.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, Pair } from "../types.d.ts"
 * @import { Connections, Hose, HoseWithLetter } from "./hose_picture.js"
 *
 * @typedef {Form<{ hoses: Hose[], ports: Pair[] }, { value: Connections }, { value: Connections }>} HookUpForm
 */

/** @param {HookUpForm} view */
function render(view) {
  return showForm(view, hookUpWork);
}

/** @param {HookUpForm["model"]} model */
function hookUpWork(model) {
  const hookUp = new HookUp(model.get("hoses"), model.get("ports"), model.get("answer").value ?? {});
  return { root: hookUp.root, value: () => ({ value: hookUp.connections() }) };
}

class HookUp {
  /**
   * @param {Hose[]} hoses
   * @param {Pair[]} ports
   * @param {Connections} given
   */
  constructor(hoses, ports, given) {
    this.ports = new Map(ports);
    this.hoses = hoses.map((hose, index) => ({ ...hose, letter: "ABCDEF"[index] }));
    /** @type {string | null} */
    this.inHand = null;
    this.heard = element("p", { class: "cf-hint", role: "status", "aria-live": "polite" });
    this.picture = new HosePicture(this.hoses, ports, {
      take: (id) => this.take(id),
      choose: (port) => this.choose(port),
      put: (id, port) => this.put(id, port),
    });
    this.selects = Object.fromEntries(this.hoses.map((hose) => [hose.id, this.select(hose, given[hose.id])]));
    this.root = element(
      "div",
      { class: "cf-hook-up-work" },
      this.picture.root,
      element("div", { class: "cf-hoses" }, ...this.hoses.map((hose) => this.row(hose)), this.heard),
    );
    setText(
      this.heard,
      "Choose a fitting in the lists, or drag the end of a hose to a fitting in the picture.",
    );
    this.draw();
  }

  /**
   * @param {HoseWithLetter} hose
   * @param {string | null | undefined} given
   */
  select(hose, given) {
    const options = [["", "not connected"], ...this.ports];
    return element(
      "select",
      { ...HANDS_OFF, id: freshId("cf-hose"), on: { change: () => this.changed(hose.id) } },
      ...options.map(([value, text]) =>
        element("option", { value, selected: value === (given ?? "") }, text),
      ),
    );
  }

  /** @param {HoseWithLetter} hose */
  row(hose) {
    const select = this.selects[hose.id];
    return element(
      "div",
      { class: "cf-hose-row", "data-hose": hose.id },
      element("span", { class: `cf-letter cf-letter-${hose.letter}`, "aria-hidden": "true" }, hose.letter),
      element("label", { for: select.id }, `Hose ${hose.letter}: ${hose.label}`),
      select,
    );
  }

  connections() {
    return Object.fromEntries(this.hoses.map(({ id }) => [id, this.selects[id].value || null]));
  }

  /** @param {string} id */
  hose(id) {
    return /** @type {HoseWithLetter} */ (this.hoses.find((one) => one.id === id));
  }

  /** @param {string} id */
  take(id) {
    this.inHand = this.inHand === id ? null : id;
    const hose = this.hose(id);
    setText(
      this.heard,
      this.inHand
        ? `Hose ${hose.letter} is in your hand: click where it goes.`
        : `Hose ${hose.letter} is let go.`,
    );
    this.draw();
  }

  /** @param {string} port */
  choose(port) {
    if (!this.inHand) {
      setText(this.heard, "Click a hose first, then where it goes.");
      return;
    }
    this.put(this.inHand, port);
  }

  /**
   * @param {string} id
   * @param {string | null} port
   */
  put(id, port) {
    this.selects[id].value = port ?? "";
    this.changed(id);
  }

  /** @param {string} id */
  changed(id) {
    const hose = this.hose(id);
    const port = this.selects[id].value;
    this.inHand = null;
    setText(
      this.heard,
      port ? `Hose ${hose.letter} is on: ${this.ports.get(port)}.` : `Hose ${hose.letter} is not connected.`,
    );
    this.draw();
  }

  draw() {
    this.picture.show(this.connections(), this.inHand);
  }
}

export default { initialize: hear, render };
