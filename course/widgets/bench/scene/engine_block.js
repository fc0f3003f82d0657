// What stands still of the whole engine, in a front three-quarter view: sump, block, heads with their covers, manifold,
// carburettor under its air cleaner.

import { drawing } from "../../shared/elements.js";
import { outline, rounded, shadeFrom, written } from "./shapes.js";

/**
 * @import { Place, Shades } from "./shapes.js"
 *
 * @typedef {[across: number, up: number]} Corner Of a section through the engine, seen from its front.
 */

// A place of the engine: `across` from its far side (0) to the near one (1), `along` from its front to its rear, `up`
// from the sump's joint. What is farther away is drawn a little smaller.
/**
 * @param {number} across
 * @param {number} along
 * @param {number} up
 * @returns {Place}
 */
export function placeOn(across, along, up) {
  const far = (1 - across) * (1 - 0.12 * along);
  return [166 + 186 * along - 88 * far, 256 - 42 * along - 18 * far - up * (1 - 0.105 * along)];
}

// A body of one section from front to rear: its faces to the near side and above, of which each has a fill, from the
// lower near corner on, and its front.
/**
 * @param {Corner[]} section
 * @param {[number, number]} reach along, of its front and its rear
 * @param {string[]} fills
 * @param {string} front
 */
function prism(section, [from, to], fills, front) {
  const face = (/** @type {string} */ d, /** @type {string} */ fill) =>
    drawing("path", { class: "es-part", d, fill });
  return [
    ...fills.map((fill, index) => {
      const [[a, b], [c, d]] = [section[index], section[index + 1]];
      return face(
        outline(placeOn(a, from, b), placeOn(a, to, b), placeOn(c, to, d), placeOn(c, from, d)),
        fill,
      );
    }),
    face(outline(...section.map(([across, up]) => placeOn(across, from, up))), front),
  ];
}

// A line on the engine's near side, from one place to another.
/**
 * @param {string} kind
 * @param {...[number, number, number][]} lines
 */
function linesOn(kind, ...lines) {
  const d = lines.map((line) => `M ${line.map((one) => written(placeOn(...one))).join(" L ")}`).join(" ");
  return drawing("path", { class: kind, d });
}

const BOLTS = [0.04, 0.17, 0.3, 0.43, 0.56, 0.69, 0.82, 0.95];

// The fills of what is cast, and of what is polished.
/** @param {Shades} shade */
function fillsOf(shade) {
  const down = /** @type {(up: number, to: number, stops: string[]) => string} */ (
    (up, to, stops) => {
      const [x, y] = placeOn(1, 0.5, up);
      const deep = up - to;
      return shadeFrom(shade.defs, [x, y], [x + deep * 0.19, y + deep * 0.95], stops);
    }
  );
  return {
    blockSide: down(114, 0, ["dark", "iron", "iron", "soot"]),
    blockFront: shadeFrom(shade.defs, [78, 126], [166, 250], ["middle", "dark", "iron"]),
    sumpSide: down(0, -30, ["iron", "soot"]),
    sumpFront: shadeFrom(shade.defs, [80, 240], [170, 284], ["dark", "iron", "soot"]),
    headSide: down(158, 114, ["middle", "dark", "iron"]),
    headFront: shadeFrom(shade.defs, [80, 80], [166, 140], ["light", "middle", "dark"]),
    ledge: shade.bright,
    coverSide: down(182, 158, ["light", "middle", "dark"]),
    coverEdge: shade.bright,
    coverTop: shadeFrom(shade.defs, [120, 60], [330, 40], ["middle", "light", "white", "light", "middle"]),
    coverFront: shadeFrom(shade.defs, [88, 62], [160, 96], ["white", "light", "middle"]),
  };
}

// Pressed from sheet: its outer corners are round, and the edge between its two sides.
/** @param {ReturnType<typeof fillsOf>} fills */
function sump(fills) {
  const [edge, foot] = [placeOn(1, 0.01, 0), placeOn(0.93, 0.05, -31)];
  const [rear, far] = [placeOn(0.93, 0.94, -27), placeOn(0.1, 0.05, -31)];
  const [rearTop, farTop] = [placeOn(1, 0.98, 0), placeOn(0.02, 0, 0)];
  const near = /** @type {(from: Place, to: Place, share: number) => Place} */ (
    ([x, y], [toX, toY], share) => [x + (toX - x) * share, y + (toY - y) * share]
  );
  const side = (/** @type {Place} */ top, /** @type {Place} */ low, /** @type {string} */ fill) =>
    drawing("path", {
      class: "es-part",
      d: `M ${written(edge)} L ${written(top)} L ${written(near(top, low, 0.7))} Q ${written(low)} ${written(near(low, foot, 0.08))} L ${written(foot)} Z`,
      fill,
    });
  return [side(rearTop, rear, fills.sumpSide), side(farTop, far, fills.sumpFront)];
}

/** @param {Shades} shade */
export function blockAndSump(shade) {
  const fills = fillsOf(shade);
  return [
    // The bell housing behind, with what it is bolted to broken off.
    drawing("path", {
      class: "es-part",
      d: "M 346 122 Q 372 118 376 142 L 386 160 V 204 L 372 222 Q 366 232 346 224 Z",
      fill: shadeFrom(shade.defs, [350, 120], [376, 226], ["middle", "dark", "iron", "soot"]),
    }),
    drawing("path", { class: "es-seam-dark", d: "M 360 124 Q 368 172 358 224" }),
    ...sump(fills),
    ...prism(
      [
        [1, 0],
        [1, 114],
        [0, 114],
        [0, 0],
      ],
      [0, 1],
      [fills.blockSide],
      fills.blockFront,
    ),
    // The panel of the water jacket, the rail over the crankcase, the joint of the sump with its bolts.
    drawing("path", {
      class: "es-panel",
      d: rounded(
        [placeOn(1, 0.05, 102), placeOn(1, 0.95, 102), placeOn(1, 0.95, 50), placeOn(1, 0.05, 50)],
        8,
      ),
    }),
    linesOn("es-edge-light", [
      [1, 0.07, 103],
      [1, 0.93, 103],
    ]),
    linesOn("es-edge-dark", [
      [1, 0, 36],
      [1, 1, 36],
    ]),
    linesOn("es-edge-light", [
      [1, 0, 34],
      [1, 1, 34],
    ]),
    drawing("path", {
      class: "es-part es-fine",
      d: outline(placeOn(1.02, 0, -4), placeOn(1.02, 1, -4), placeOn(1.02, 1, 4), placeOn(1.02, 0, 4)),
      fill: fills.blockSide,
    }),
    drawing("path", {
      class: "es-part es-fine",
      d: outline(placeOn(-0.02, 0, -4), placeOn(1.02, 0, -4), placeOn(1.02, 0, 4), placeOn(-0.02, 0, 4)),
      fill: fills.blockFront,
    }),
    ...BOLTS.map((along) => {
      const [cx, cy] = placeOn(1.02, along, 0);
      return drawing("circle", { class: "es-stud", cx, cy, r: 1.8 });
    }),
  ];
}

// A head on its gasket and the finned cover on it, between two places across; with its filler cap where it has one.
/**
 * @param {Shades} shade
 * @param {[number, number]} reach across
 * @param {boolean} filler
 */
export function headWithCover(shade, [far, near], filler) {
  const fills = fillsOf(shade);
  const [lean, wide] = [0.1, near - far];
  const [left, right] = [far + lean, near - lean];
  const fins = [0.2, 0.35, 0.5, 0.65, 0.8].map((share) => {
    const across = left + 0.1 + (right - left - 0.2) * share;
    return /** @type {[number, number, number][]} */ ([
      [across, 0.16, 184],
      [across, 0.92, 184],
    ]);
  });
  const [capX, capY] = placeOn(left + 0.36 * wide, 0.1, 184);
  return [
    ...prism(
      [
        [near, 114],
        [near - 0.02, 158],
        [far + 0.02, 158],
        [far, 114],
      ],
      [0, 1],
      [fills.headSide, fills.ledge],
      fills.headFront,
    ),
    linesOn("es-gasket", [
      [far, 0, 114],
      [near, 0, 114],
      [near, 1, 114],
    ]),
    ...BOLTS.map((along) => {
      const [cx, cy] = placeOn(near - 0.02, along, 152);
      return drawing("circle", { class: "es-stud", cx, cy, r: 2 });
    }),
    ...prism(
      [
        [right, 159],
        [right, 172],
        [right - 0.09, 184],
        [left + 0.09, 184],
        [left, 172],
        [left, 159],
      ],
      [0.02, 0.98],
      [fills.coverSide, fills.coverEdge, fills.coverTop],
      fills.coverFront,
    ),
    linesOn("es-edge-dark", ...fins),
    linesOn(
      "es-edge-light",
      ...fins.map((line) =>
        line.map(([a, b, c]) => /** @type {[number, number, number]} */ ([a - 0.02, b, c])),
      ),
    ),
    ...(filler
      ? [
          drawing("path", {
            class: "es-cap",
            d: `M ${capX - 11} ${capY} V ${capY - 10} Q ${capX} ${capY - 17} ${capX + 11} ${capY - 10} V ${capY} Q ${capX} ${capY + 7} ${capX - 11} ${capY} Z`,
            fill: shade.blackRound,
          }),
          drawing("path", {
            class: "es-cap-seam",
            d: `M ${capX - 11} ${capY - 9} Q ${capX} ${capY - 3} ${capX + 11} ${capY - 9}`,
          }),
        ]
      : []),
  ];
}

// The manifold in line with the head's ports, and on it the carburettor; `lever` turns on its throttle's shaft.
/**
 * @param {Shades} shade
 * @param {boolean} eight
 * @param {SVGElement} lever
 */
export function carburettorOnTop(shade, eight, lever) {
  const { metal, round, blackRound, brass } = shade;
  const [ax, ay] = placeOn(1.12, 0.09, 146);
  const [bx, by] = placeOn(1.12, 0.91, 146);
  const pipe = `M ${ax} ${ay} L ${bx} ${by}`;
  const flanges = [0.16, 0.5, 0.84].map((along) => {
    const [x, y] = placeOn(1, along, 140);
    return drawing("path", {
      class: "es-part es-fine",
      d: `M ${x - 12} ${y - 6} L ${x + 10} ${y - 10} V ${y + 8} L ${x - 12} ${y + 12} Z`,
      fill: metal,
    });
  });
  return drawing(
    "g",
    { "data-look": "carburettor", transform: eight ? "translate(-54 -4)" : "" },
    ...(eight
      ? []
      : [
          ...flanges,
          drawing("path", { class: "es-pipe-edge", d: pipe }),
          drawing("path", { class: "es-pipe", d: pipe }),
          drawing("path", { class: "es-pipe-shine", d: `M ${ax} ${ay - 4} L ${bx} ${by - 4}` }),
        ]),
    drawing("path", { class: "es-part", d: "M 252 92 L 292 86 V 97 L 252 103 Z", fill: shade.shaded }),
    drawing("path", { class: "es-part", d: "M 257 62 H 288 V 87 L 257 92 Z", fill: round }),
    drawing("path", { class: "es-seam", d: "M 257 72 H 288 M 257 84 L 288 79" }),
    // The float bowl with its lid.
    drawing("path", { class: "es-part", d: "M 234 70 H 257 V 90 H 242 Q 234 90 234 82 Z", fill: metal }),
    drawing("path", { class: "es-part es-fine es-bright", d: "M 231 65 H 258 V 71 H 231 Z" }),
    drawing("circle", { class: "es-part es-fine", cx: 241, cy: 81, r: 3.4, fill: brass }),
    // The air cleaner: black sides, a bright lid with its wing nut, and the snout that it breathes through.
    drawing("path", {
      class: "es-cap",
      d: "M 236 47 L 202 53 Q 198 54 198 58 V 63 Q 198 67 203 66 L 238 60 Z",
      fill: blackRound,
    }),
    drawing("path", {
      class: "es-cap",
      d: "M 226 38 V 53 Q 226 64 272 64 T 318 53 V 38 Z",
      fill: blackRound,
    }),
    drawing("path", { class: "es-cap-seam", d: "M 226 50 Q 228 60 272 60 T 318 50" }),
    drawing("path", {
      class: "es-part",
      d: "M 222 37 Q 222 25 272 25 T 322 37 V 40 Q 322 51 272 51 T 222 40 Z",
      fill: shadeFrom(
        shade.defs,
        [222, 30],
        [322, 46],
        ["dark", "light", "white", "middle", "light", "dark"],
      ),
    }),
    drawing("path", {
      class: "es-part es-fine",
      d: "M 222 37 Q 222 25 272 25 T 322 37 Q 322 48 272 48 T 222 37 Z",
      fill: shadeFrom(
        shade.defs,
        [230, 26],
        [314, 48],
        ["white", "light", "middle", "white", "light", "dark"],
      ),
    }),
    drawing("path", {
      class: "es-edge-dark",
      d: "M 240 37 Q 240 30 272 30 T 304 37 T 272 44 T 240 37",
    }),
    drawing("path", {
      class: "es-part es-fine",
      d: "M 269 38 V 32 Q 262 30 262 27 Q 264 24 270 28 H 274 Q 280 24 282 27 Q 282 30 275 32 V 38 Z",
      fill: brass,
    }),
    drawing("g", { transform: "translate(290 82)" }, lever),
  );
}
