// A part that hands turn: a slider between steps, fine and coarse, both ways, and where it stands now.

import { element, freshId, pushButton } from "../shared/elements.js";
import { TurnHandle } from "./turn_handle.js";

/** @import { Control, SendAct, Updates } from "../types.d.ts" */

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
  centre_mark: {
    back: "towards after top centre",
    on: "towards before top centre",
    signs: ["↻", "↺"],
  },
  weights_stop: { back: "less advance", on: "more advance", signs: ["−", "+"] },
};

/**
 * @param {Control} control
 * @param {SendAct} act
 * @param {Updates} updates
 * @param {Map<string, TurnHandle>} handles Takes the new handle by its control's name.
 */
export function turned(control, act, updates, handles) {
  const handle = new TurnHandle(control, act);
  handles.set(control.name, handle);
  updates.push((settings) => handle.show(settings));
  const name = freshId("eb-label");
  return element(
    "div",
    { class: control.turns.length ? "eb-row eb-row-turn" : "eb-row eb-row-slide" },
    element(
      "div",
      { class: "eb-turn-head" },
      element("label", { class: "eb-label", id: name, for: handle.input.id }, control.label),
      handle.where,
    ),
    element("div", { class: "eb-turns", role: "group", "aria-labelledby": name }, ...between(handle, act)),
  );
}

/**
 * @param {TurnHandle} handle
 * @param {SendAct} act
 */
function between(handle, act) {
  const { control, input } = handle;
  if (!control.turns.length) return [input, closed(control, act)];
  const words = TURN_WORDS[control.name];
  const [[fine, small], [coarse, large]] = control.turns;
  const button = (/** @type {string} */ size, /** @type {0 | 1} */ way, /** @type {number} */ by) =>
    pushButton(
      `${by === coarse || by === -coarse ? `${words.signs[way]} ` : ""}${size.replace(/ .*/, "")}`,
      () => act({ control: control.name, by }),
      {
        class: "eb-turn",
        "data-control": control.name,
        "data-by": by,
        "aria-label": `${control.label}: ${size} ${way ? words.on : words.back}`,
      },
    );
  return [
    button(large, 0, -coarse),
    button(small, 0, -fine),
    input,
    button(small, 1, fine),
    button(large, 1, coarse),
  ];
}

/**
 * @param {Control} control
 * @param {SendAct} act
 */
function closed({ name, label, low }, act) {
  return pushButton("Close", () => act({ control: name, value: low }), {
    class: "eb-turn",
    "aria-label": `Close the ${label.toLowerCase()}`,
  });
}
