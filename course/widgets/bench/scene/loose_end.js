// An end of a hose, a lead or a tool that is put somewhere by hand: each place is one choice of its control.

import { drawing, setAttribute } from "../../shared/elements.js";
import { keepsFinger } from "./geared_drag.js";
import { offered } from "./handles.js";
import { placeOfPointer, written } from "./shapes.js";

/**
 * @import { Workplace } from "./handles.js"
 * @import { Hose, Place } from "./shapes.js"
 *
 * @typedef {object} Ways How an end is drawn and put.
 * @property {string} name Its control.
 * @property {Record<string, Place>} places Where each choice has the end.
 * @property {string} elsewhere The choice of an end that is let go away from every place.
 * @property {(at: Place, choice: string) => void} draw
 */

const NEAR = 34; // units of the picture within which an end finds its place

/**
 * @param {Place} at
 * @param {Record<string, Place>} places
 * @param {string} elsewhere
 */
export function placeFor(at, places, elsewhere) {
  let [found, nearest] = [elsewhere, NEAR];
  for (const [choice, [x, y]] of Object.entries(places)) {
    const away = Math.hypot(at[0] - x, at[1] - y);
    if (away < nearest) [found, nearest] = [choice, away];
  }
  return found;
}

// The grip on the end: it follows the pointer while it is held, and goes where the state has it when it is let go.
/**
 * @param {Workplace} place
 * @param {() => SVGSVGElement} picture
 * @param {Ways} ways
 */
export function looseEnd(place, picture, { name, places, elsewhere, draw }) {
  const grip = drawing("circle", { class: "es-end", r: 20.3, "data-grip": name });
  let stands = elsewhere;
  /** @type {number | null} */
  let pointer = null;
  const put = (/** @type {Place} */ at, /** @type {string} */ choice) => {
    setAttribute(grip, "cx", at[0]);
    setAttribute(grip, "cy", at[1]);
    draw(at, choice);
  };
  const home = () => put(places[stands] ?? places[elsewhere], stands);
  if (offered(place, name)) {
    keepsFinger(grip);
    grip.addEventListener("pointerdown", (event) => {
      if (event.button !== 0 || pointer !== null) return;
      event.preventDefault();
      grip.setPointerCapture(event.pointerId);
      pointer = event.pointerId;
    });
    grip.addEventListener("pointermove", (event) => {
      if (event.pointerId === pointer) put(placeOfPointer(picture(), event), "");
    });
    const letGo = (/** @type {PointerEvent} */ event) => {
      if (event.pointerId !== pointer) return;
      pointer = null;
      const found = placeFor(placeOfPointer(picture(), event), places, elsewhere);
      home();
      if (event.type === "pointerup" && found !== stands) place.act({ control: name, value: found });
    };
    grip.addEventListener("pointerup", letGo);
    grip.addEventListener("pointercancel", letGo);
  }
  return {
    grip,
    show: (/** @type {string} */ choice) => {
      stands = choice;
      if (pointer === null) home();
    },
  };
}

// A hose that hangs between its fixed end and the other one; returns its middle. `leaves` and `arrives` are the ways
// out of the two ends.
/**
 * @param {Hose} hose
 * @param {Place} from
 * @param {Place} leaves
 * @param {Place} arrives
 * @param {Place} to
 */
export function layHose(hose, from, leaves, arrives, to) {
  const first = /** @type {Place} */ ([from[0] + leaves[0], from[1] + leaves[1]]);
  const second = /** @type {Place} */ ([to[0] + arrives[0], to[1] + arrives[1]]);
  hose.lay(`M ${written(from)} C ${written(first)} ${written(second)} ${written(to)}`);
  const middle = (/** @type {0 | 1} */ axis) =>
    (from[axis] + 3 * first[axis] + 3 * second[axis] + to[axis]) / 8;
  return /** @type {Place} */ ([middle(0), middle(1)]);
}
