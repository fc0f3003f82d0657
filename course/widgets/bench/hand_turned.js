// A part that hands turn or move by steps: fine and coarse, both ways, and where it stands now.

import { drawing, element, freshId, pushButton, setAttribute, setText } from "../shared/elements.js";
import { MM_PER_INCH } from "../shared/generated_units.js";

/**
 * @import { Control, SendAct, Updates } from "../types.d.ts"
 *
 * @typedef {{ root: Element, turn: (value: number) => void }} Picture
 */

// `back` and `on` name the way to smaller and to larger values; the steps come with the control.
/** @type {Record<string, { back: string, on: string, signs: [string, string] }>} */
const TURN_WORDS = {
  distributor: { back: "anticlockwise", on: "clockwise", signs: ["↺", "↻"] },
  idle_screw: { back: "out", on: "in", signs: ["↺", "↻"] },
  mixture_screw: { back: "in", on: "out", signs: ["↻", "↺"] },
  canister_screw: { back: "softer", on: "stiffer", signs: ["−", "+"] },
  point_gap: { back: "closer", on: "wider", signs: ["−", "+"] },
  crank_mark: {
    back: "towards after top centre",
    on: "towards before top centre",
    signs: ["↻", "↺"],
  },
  weights_stop: { back: "less advance", on: "more advance", signs: ["−", "+"] },
};
/** @type {Record<string, () => Picture>} */
const PICTURES = {
  distributor: distributorPicture,
  idle_screw: screwPicture,
  mixture_screw: () => screwPicture(-1), // its value grows as it is turned out
  canister_screw: screwPicture,
};

/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 */
export function turned(control, act, updates) {
  const words = TURN_WORDS[control.name];
  const name = freshId("eb-label");
  const [[fine, small], [coarse, large]] = control.turns;
  const button = (/** @type {string} */ size, /** @type {string} */ way, /** @type {number} */ by) =>
    pushButton(size, () => act({ control: control.name, by }), {
      class: "eb-turn",
      "data-control": control.name,
      "data-by": by,
      "aria-label": `${control.label}: ${size} ${way}`,
    });
  /** @type {(sign: string, way: string, ...buttons: Element[]) => Element} */
  const half = (sign, way, ...buttons) =>
    element(
      "div",
      { class: "eb-half" },
      element("span", { class: "eb-way", "aria-hidden": "true" }, `${sign} ${way}`),
      ...buttons,
    );
  const where = element("span", { class: "eb-where" });
  const picture = PICTURES[control.name]?.() ?? null;
  updates.push((settings) => {
    const value = Number(settings[control.name]);
    setText(where, whereWords(control.name, value));
    picture?.turn(value);
  });
  return element(
    "div",
    { class: "eb-row eb-row-turn" },
    element(
      "div",
      { class: "eb-turn-head" },
      picture?.root,
      element("span", { class: "eb-label", id: name }, control.label),
      where,
    ),
    element(
      "div",
      { class: "eb-turns", role: "group", "aria-labelledby": name },
      half(words.signs[0], words.back, button(large, words.back, -coarse), button(small, words.back, -fine)),
      half(words.signs[1], words.on, button(small, words.on, fine), button(large, words.on, coarse)),
    ),
  );
}

// Only what hands themselves know: where a screw or stop stands, or how far from the chalk mark made at the start.
/**
 * @param {string} name
 * @param {number} value
 */
export function whereWords(name, value) {
  if (name === "idle_screw") return `${value.toFixed(2)} turns in from fully out`;
  if (name === "mixture_screw") return `${value.toFixed(3)} turns out from fully in`;
  if (name === "point_gap") return `${value.toFixed(2)} mm (${(value / MM_PER_INCH).toFixed(3)} in)`;
  if (name === "weights_stop") return `${value.toFixed(0)} crank degrees`;
  if (name === "crank_mark") return placeOfCrank(value);
  if (Math.abs(value) < 1e-6) return "as found";
  if (name === "canister_screw")
    return `${Math.abs(value)} turns ${value > 0 ? "stiffer" : "softer"} than you found it`;
  return `${Math.abs(value).toFixed(2)}° ${value > 0 ? "clockwise" : "anticlockwise"} of where you found it`;
}

/** @param {number} deg */
function placeOfCrank(deg) {
  return deg ? `${Math.abs(deg)}° ${deg > 0 ? "before" : "after"} top centre` : "top centre";
}

/** @returns {Picture} */
function distributorPicture() {
  const body = drawing(
    "g",
    {},
    drawing("circle", { class: "eb-part", r: 15 }),
    drawing("circle", { class: "eb-part", r: 5 }),
    drawing("line", { class: "eb-part-mark", y1: -15, y2: -8 }),
    drawing("rect", { class: "eb-part", x: -3.5, y: 15, width: 7, height: 5, rx: 1 }),
  );
  const root = handPicture(
    drawing("path", { class: "eb-part-mark", d: "M 0 -16.5 L -3 -21.5 L 3 -21.5 Z" }),
    body,
  );
  return { root, turn: (value) => setAttribute(body, "transform", `rotate(${value})`) };
}

/** @returns {Picture} */
function screwPicture(sense = 1) {
  const slot = drawing("line", { class: "eb-part-mark", x1: -9, x2: 9 });
  const root = handPicture(drawing("circle", { class: "eb-part", r: 15 }), slot);
  return { root, turn: (value) => setAttribute(slot, "transform", `rotate(${sense * (value % 1) * 360})`) };
}

/** @param {...Element} parts */
function handPicture(...parts) {
  const around = { class: "eb-picture", viewBox: "-22 -22 44 44", "aria-hidden": "true", focusable: "false" };
  return drawing("svg", around, ...parts);
}
