// The instruments that stand below the coil, each in a field of 62 by 46 units.

import { drawing } from "../../shared/elements.js";
import { arcRound, placeRound, written } from "./shapes.js";

/**
 * @import { Place, Shades } from "./shapes.js"
 */

// A scale of ticks round a needle's axis.
/**
 * @param {Place} axis
 * @param {number} radius
 * @param {number} reach degrees to either side of upright
 * @param {number} count of ticks
 */
export function scaleRound(axis, radius, reach, count) {
  const ticks = Array.from({ length: count }, (_, index) => {
    const deg = -reach + (2 * index * reach) / (count - 1);
    return `M ${written(placeRound(axis, radius - 3.5, deg))} L ${written(placeRound(axis, radius, deg))}`;
  });
  return drawing("path", {
    class: "es-dial-arc",
    d: `${arcRound(axis, radius, -reach, reach)} ${ticks.join(" ")}`,
  });
}

/**
 * @param {Place} axis
 * @param {number} radius
 * @param {number} deg
 */
function needleFrom(axis, radius, deg) {
  const d = `M ${written(axis)} L ${written(placeRound(axis, radius, deg))}`;
  return drawing("path", { class: "es-needle", d });
}

/** @type {Record<string, (shade: Shades) => Element[]>} */
export const INSTRUMENTS = {
  // A round dial on a stand.
  tachometer: (shade) => [
    drawing("path", { class: "es-part", d: "M 14 44 L 20 34 H 42 L 48 44 Z", fill: shade.shaded }),
    drawing("circle", { class: "es-part", cx: 31, cy: 21, r: 21, fill: shade.metal }),
    drawing("circle", { class: "es-face", cx: 31, cy: 21, r: 17 }),
    scaleRound([31, 22], 13.5, 120, 7),
    needleFrom([31, 22], 11, -120),
    drawing("circle", { class: "es-slot", cx: 31, cy: 22, r: 2.6 }),
  ],
  // A box with a broad scale, a coloured band on it, and two knobs.
  dwell_meter: (shade) => [
    drawing("rect", { class: "es-part", x: 1, y: 4, width: 60, height: 40, rx: 5, fill: shade.metal }),
    drawing("rect", { class: "es-face", x: 7, y: 9, width: 48, height: 22, rx: 2 }),
    drawing("path", { class: "es-dial-band", d: arcRound([31, 46], 29.5, -10, 22) }),
    scaleRound([31, 46], 33, 36, 7),
    needleFrom([31, 31], 17, -44),
    ...[22, 40].map((cx) =>
      drawing("circle", { class: "es-cap es-fine", cx, cy: 37.5, r: 4, fill: shade.black }),
    ),
  ],
  // A bulb in its holder, with a handle.
  test_lamp: (shade) => [
    drawing("circle", { class: "es-bulb", cx: 46, cy: 16, r: 11 }),
    drawing("path", { class: "es-seam", d: "M 42 25 L 41 16 L 44 19 L 46 15 L 48 19 L 51 16 L 50 25" }),
    drawing("path", { class: "es-part es-fine", d: "M 39 24 H 53 V 32 H 39 Z", fill: shade.brass }),
    drawing("path", { class: "es-seam", d: "M 39 27 H 53 M 39 30 H 53" }),
    drawing("path", { class: "es-cap", d: "M 34 32 H 58 V 44 H 8 Q 4 44 4 38 T 8 32 Z", fill: shade.black }),
    drawing("path", { class: "es-cap-seam", d: "M 12 35 V 41 M 17 35 V 41 M 22 35 V 41" }),
  ],
  // A hand lamp: barrel with its lens, grip and trigger.
  timing_light: (shade) => [
    drawing("path", {
      class: "es-cap",
      d: "M 10 20 L 30 20 L 24 44 Q 23 46 20 46 H 8 Q 5 46 6 42 Z",
      fill: shade.black,
    }),
    drawing("path", { class: "es-sleeve", d: "M 29 23 H 34 L 31 31 H 27 Z" }),
    drawing("path", {
      class: "es-part",
      d: "M 6 6 Q 6 3 9 3 H 44 V 23 H 9 Q 6 23 6 20 Z",
      fill: shade.metal,
    }),
    drawing("path", { class: "es-seam", d: "M 12 7 V 19 M 17 7 V 19 M 22 7 V 19" }),
    drawing("path", { class: "es-part", d: "M 44 5 L 54 0 V 26 L 44 21 Z", fill: shade.shaded }),
    drawing("path", { class: "es-bulb", d: "M 54 0 Q 62 13 54 26 Z" }),
  ],
};
