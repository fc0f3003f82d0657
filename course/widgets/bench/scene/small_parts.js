// Small parts that more than one picture shows: clips, the key, the plug with its boot, a screw with its spring.

import { drawing, setAttribute } from "../../shared/elements.js";
import { arcRound, placeRound, screwHead } from "./shapes.js";

/**
 * @import { Place, Shades } from "./shapes.js"
 */

const HOLD = 32; // how far round its middle a part of the picture can be pressed
const CLIP_LONG = 26; // from its teeth to where the lead goes in

// A crocodile clip: toothed jaws that meet at the place it bites, a pivot, and two sleeved handles. `put` returns where
// its lead goes in; at 0 degrees that is below the jaws.
/** @param {string} kind */
export function crocodileClip(kind) {
  const sides = [-1, 1].map((side) =>
    drawing(
      "g",
      { transform: `scale(${side} 1)` },
      drawing("path", { class: `es-sleeve es-${kind}`, d: "M 1 21 L 4 15 L 8 18 L 13 34 Q 13 40 8 39 Z" }),
      drawing("path", {
        class: "es-part es-bright es-fine",
        d: "M 0 -5 Q 8 0 9 14 L 5 21 H 0.5 V 16 L 3 13.5 L 0.5 11 L 3 8.5 L 0.5 6 L 3 3.5 L 0.5 1 Z",
      }),
    ),
  );
  const root = drawing("g", {}, ...sides, drawing("circle", { class: "es-slot", cy: 17, r: 2.4 }));
  return {
    root,
    put: (/** @type {Place} */ at, /** @type {number} */ deg) => {
      setAttribute(root, "transform", `translate(${at[0].toFixed(1)} ${at[1].toFixed(1)}) rotate(${deg})`);
      return placeRound(at, CLIP_LONG, deg + 180);
    },
  };
}

// A key in its lock, seen from the front and a little above: the bow hangs below the barrel.
/** @param {Shades} shade */
export function keyInLock(shade) {
  const key = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-part es-fine",
      d: "M -2.5 -7 H 2.5 V 10 A 10 10 0 1 1 -2.5 10 Z M 0 16 A 4 4 0 1 0 0.1 16 Z",
      fill: shade.brass,
      "fill-rule": "evenodd",
    }),
    drawing("path", { class: "es-seam", d: "M 0 -5 V 9" }),
  );
  const root = drawing(
    "g",
    {},
    drawing("circle", { class: "es-part", r: 17, fill: shade.metal }),
    drawing("circle", { class: "es-part es-fine", r: 12, fill: shade.shaded }),
    drawing("path", { class: "es-slot", d: "M -2 -9 H 2 V 9 H -2 Z" }),
    key,
  );
  return {
    root,
    turn: (/** @type {number} */ deg) => setAttribute(key, "transform", `rotate(${deg})`),
  };
}

// A spark plug with its boot on: it is screwed in at the origin, and its lead leaves `PLUG_HIGH` above that.
export const PLUG_HIGH = 42;
/** @param {Shades} shade */
export function sparkPlug(shade) {
  return drawing(
    "g",
    {},
    drawing("path", { class: "es-part es-fine", d: "M -7 0 V -5 H 7 V 0 Z", fill: shade.round }),
    drawing("path", { class: "es-part es-fine", d: "M -10 -5 V -13 H 10 V -5 Z", fill: shade.round }),
    drawing("path", { class: "es-part es-fine es-china", d: "M -6 -13 L -5 -24 H 5 L 6 -13 Z" }),
    drawing("path", {
      class: "es-cap es-fine",
      d: "M -7.5 -19 V -32 Q -7.5 -36 -4.5 -37 V -44 H 4.5 V -37 Q 7.5 -36 7.5 -32 V -19 Z",
      fill: shade.blackRound,
    }),
  );
}

// The coils of a spring round a screw, seen from the side: from 0 to `long` to the right.
/**
 * @param {number} long
 * @param {number} radius
 */
export function springAlong(long, radius) {
  const step = 5.5;
  const turns = Math.floor(long / step);
  const coils = Array.from({ length: turns }, (_, index) => {
    const x = 2 + (index * (long - 5)) / Math.max(turns - 1, 1);
    return `M ${x.toFixed(1)} ${-radius} L ${(x + 2.4).toFixed(1)} ${radius}`;
  });
  const d = coils.join(" ");
  return drawing(
    "g",
    {},
    drawing("path", { class: "es-spring-edge", d }),
    drawing("path", { class: "es-spring", d }),
  );
}

// A slotted screw with its spring, seen at a slant from its head, which is at the origin; it goes up, into what its spring
// rests on at `spring` above the head.
/**
 * @param {Shades} shade
 * @param {number} radius
 * @param {number} spring
 */
export function screwWithSpring(shade, radius, spring) {
  const [flat, thick] = [0.62, 8];
  const back = -thick - radius * flat * 0.5; // where the shank leaves the back of the head
  const rim = [-0.85, -0.6, -0.3, 0, 0.3, 0.6, 0.85].map((share) => {
    const y = -radius * flat * Math.sqrt(1 - share ** 2);
    return `M ${(share * radius).toFixed(1)} ${y.toFixed(1)} v ${-thick}`;
  });
  const head = screwHead(radius, shade.metal);
  const coils = springAlong(spring + radius * 0.25, radius * 0.55);
  setAttribute(coils, "transform", `translate(0 ${back + radius * 0.25}) rotate(-90)`);
  const root = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-part es-fine",
      d: `M -4 0 V ${back - spring} H 4 V 0 Z`,
      fill: shade.round,
    }),
    coils,
    drawing("path", {
      class: "es-part",
      d: `M ${-radius} 0 v ${-thick} a ${radius} ${radius * flat} 0 0 1 ${2 * radius} 0 v ${thick} Z`,
      fill: shade.round,
    }),
    drawing("path", { class: "es-seam", d: rim.join(" ") }),
    drawing("g", { transform: `scale(1 ${flat})` }, head.root),
  );
  return { root, turn: head.turn };
}

// The edge of something that goes on past what is drawn: a wave from one place to another.
/**
 * @param {Place} from
 * @param {Place} to
 */
export function brokenOff([x, y], [toX, toY]) {
  const [dx, dy] = [(toX - x) / 3, (toY - y) / 3];
  const out = /** @type {(share: number, side: number) => string} */ (
    (share, side) => `${(x + dx * share - dy * side).toFixed(1)} ${(y + dy * share + dx * side).toFixed(1)}`
  );
  return `C ${out(0.5, 0.18)} ${out(0.8, 0.18)} ${out(1.2, 0)} S ${out(1.8, -0.2)} ${out(2.2, 0)} S ${out(2.8, 0.15)} ${out(3, 0)}`;
}

// Where a part of the picture is pressed, wider than it is drawn.
/** @param {Place} at */
export function holdAt([cx, cy]) {
  return drawing("circle", { class: "es-touch", cx, cy, r: HOLD });
}

// A dial on its own, with what is written on it left out at this size.
/**
 * @param {Place} at
 * @param {number} deg
 */
export function dialAt([x, y], deg) {
  return drawing(
    "g",
    { transform: `translate(${x} ${y})` },
    drawing("circle", { class: "es-part es-bright", r: 17 }),
    drawing("circle", { class: "es-face", r: 13 }),
    drawing("path", { class: "es-dial-arc", d: arcRound([0, 0], 9.5, -120, 120) }),
    drawing("path", { class: "es-needle", d: "M 0 3 V -8", transform: `rotate(${deg})` }),
  );
}
