// The front of the whole engine: timing cover, crank pulley under its scale, belt, generator and fan. `turn` moves what a
// running engine turns.

import { drawing, setAttribute } from "../../shared/elements.js";
import { boltHead, pieceOfRing, placeRound, shadeFrom, written } from "./shapes.js";
import { holdAt } from "./small_parts.js";

/**
 * @import { Place, Shades } from "./shapes.js"
 */

// The belt's pulleys on the front, which is drawn this much narrower than it is.
const FRONT_NARROWS = 0.8;
/** @type {[at: Place, radius: number][]} */
const PULLEYS = [
  [[144, 226], 27],
  [[138, 140], 15],
  [[194, 186], 15],
];
const FAN_REACHES = 54;

// What the belt drives, all narrowed as the front is.
/** @param {Shades} shade */
export function engineFront(shade) {
  const { shaded, metal, black, level, round } = shade;
  /** @type {(which: number, fill: string, ...on: Element[]) => SVGGElement} */
  const disc = (which, fill, ...on) => {
    const [[x, y], radius] = PULLEYS[which];
    return drawing(
      "g",
      { transform: `translate(${x} ${y})` },
      drawing("circle", { class: "es-part", r: radius - 1, fill }),
      ...on,
    );
  };
  const blades = drawing(
    "g",
    { class: "es-blades" },
    ...[0, 60, 120, 180, 240, 300].map((deg) =>
      drawing(
        "g",
        { transform: `rotate(${deg})` },
        drawing("path", {
          class: "es-part",
          d: `M -5 -9 L -14 -${FAN_REACHES - 9} Q -3 -${FAN_REACHES + 3} 12 -${FAN_REACHES - 5} L 5 -9 Z`,
          fill: round,
        }),
        drawing("path", { class: "es-edge-light", d: `M -3 -14 L -10 -${FAN_REACHES - 12}` }),
      ),
    ),
  );
  const blurredFan = drawing(
    "g",
    { class: "es-fan-blur" },
    drawing("circle", { class: "es-fan-disc", r: FAN_REACHES }),
    drawing("circle", { class: "es-fan-rim", r: FAN_REACHES - 2 }),
    drawing("circle", { class: "es-fan-rim", r: FAN_REACHES * 0.62 }),
  );
  const pulleyFace = drawing(
    "g",
    {},
    ...[60, 180, 300].map((deg) =>
      drawing("path", { class: "es-hole", d: pieceOfRing([0, 0], 9, 15, deg - 34, deg + 34) }),
    ),
    drawing("path", { class: "es-paint es-small-mark", d: "M 0 -18 V -25" }),
  );
  const belts = drawing("path", { class: "es-belt es-belt-runs", d: beltRound(PULLEYS) });
  const [[crankX, crankY]] = PULLEYS[0];
  const [[fanX, fanY]] = PULLEYS[1];
  const parts = [
    // The timing cover, wide at the crank and narrow above, with its bolts.
    drawing("path", {
      class: "es-part",
      d: "M 96 150 Q 97 138 110 138 H 128 Q 141 140 143 152 L 152 224 Q 152 250 134 253 L 112 250 Q 88 246 88 222 Z",
      fill: shadeFrom(shade.defs, [90, 140], [150, 250], ["light", "middle", "dark"]),
    }),
    ...[
      [101, 150],
      [139, 157],
      [95, 186],
      [146, 194],
      [92, 226],
      [147, 232],
    ].map(([cx, cy]) => drawing("circle", { class: "es-stud", cx, cy, r: 2.2 })),
    // The generator's body goes back along the block, held by its bracket.
    drawing("path", { class: "es-part es-fine", d: "M 166 196 L 196 190 L 190 214 H 172 Z", fill: metal }),
    drawing("path", {
      class: "es-part",
      d: "M 158 168 L 196 161 Q 208 162 208 179 T 196 196 L 158 203 Z",
      fill: level,
    }),
    drawing("path", { class: "es-seam-dark", d: "M 167 167 V 201 M 193 162 V 197" }),
    drawing("path", {
      class: "es-hole",
      d: "M 172 178 l 8 -1.5 v 4 l -8 1.500 Z M 172 187 l 8 -1.5 v 4 l -8 1.500 Z",
    }),
    drawing("path", { class: "es-part es-fine es-brass", d: "M 196 168 h 5 v 7 h -5 Z" }),
    drawing("path", { class: "es-part", d: "M 98 126 H 126 V 152 H 98 Z", fill: round }),
    drawing(
      "g",
      { transform: `scale(${FRONT_NARROWS} 1)` },
      drawing(
        "g",
        { "data-look": "pulley" },
        holdAt(PULLEYS[0][0]),
        drawing("path", { class: "es-belt-back", d: beltRound(PULLEYS) }),
        belts,
        disc(
          0,
          black,
          drawing("circle", { class: "es-part", r: 18, fill: metal }),
          pulleyFace,
          boltHead(5, metal),
        ),
        drawing("path", {
          class: "es-part es-bright es-fine",
          d: pieceOfRing([crankX, crankY], 29, 41, 8, 58),
        }),
        drawing("path", {
          class: "es-scale",
          d: [16, 25, 34, 43, 52]
            .map(
              (deg) =>
                `M ${written(placeRound([crankX, crankY], 30, deg))} L ${written(placeRound([crankX, crankY], 36, deg))}`,
            )
            .join(" "),
        }),
      ),
      disc(2, metal, drawing("circle", { class: "es-seam-dark", r: 9 }), boltHead(4, metal)),
      disc(1, shaded, drawing("circle", { class: "es-seam-dark", r: 10 })),
      drawing(
        "g",
        { transform: `translate(${fanX} ${fanY})` },
        blurredFan,
        blades,
        drawing("circle", { class: "es-part", r: 13, fill: metal }),
        ...[45, 135, 225, 315].map((deg) => {
          const [cx, cy] = placeRound([0, 0], 9, deg);
          return drawing("circle", { class: "es-stud", cx, cy, r: 1.8 });
        }),
        drawing("circle", { class: "es-part es-bright", r: 4.5 }),
      ),
    ),
  ];
  return {
    parts,
    turn: (/** @type {number} */ fan, /** @type {number} */ pulley) => {
      setAttribute(blades, "transform", `rotate(${fan.toFixed(1)})`);
      setAttribute(pulleyFace, "transform", `rotate(${pulley.toFixed(1)})`);
      belts.style.strokeDashoffset = String(-pulley / 4);
    },
  };
}

// Straight from rim to rim, and round each pulley, which are given clockwise.
/** @param {[Place, number][]} pulleys */
function beltRound(pulleys) {
  const runs = pulleys.map(([[x, y], radius], index) => {
    const [[toX, toY], toRadius] = pulleys[(index + 1) % pulleys.length];
    const away = Math.hypot(toX - x, toY - y);
    const lean = (radius - toRadius) / away;
    const [dx, dy] = [(toX - x) / away, (toY - y) / away];
    const across = Math.sqrt(1 - lean ** 2);
    const [outX, outY] = [dy * across + dx * lean, -dx * across + dy * lean];
    const off = written([x + outX * radius, y + outY * radius]);
    const on = written([toX + outX * toRadius, toY + outY * toRadius]);
    return `${index ? "L" : "M"} ${off} L ${on} A ${toRadius} ${toRadius} 0 0 1`;
  });
  const starts = runs.map((run) => run.split(" ").slice(1, 3).join(" "));
  return `${runs.map((run, index) => `${run.replace(/^L \S+ \S+ /, "")} ${starts[(index + 1) % runs.length]}`).join(" ")} Z`;
}
