// The crank's pulley with its mark, under the scale and pointer on the front cover, and the belt that runs over it.

import { drawing, setAttribute } from "../../shared/elements.js";
import { markTurn } from "../pulley_picture.js";
import { turnByDragging } from "./geared_drag.js";
import { offered } from "./handles.js";
import { looseEnd } from "./loose_end.js";
import {
  boltHead,
  closeUpPicture,
  nameAt,
  pieceOfRing,
  placeRound,
  pointTo,
  shades,
  written,
} from "./shapes.js";
import { INSTRUMENTS } from "./testers.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const CRANK = [196, 206];
const PULLEY_RIM = 84;
const OUT_OF_SIGHT = 246; // degrees of the drawing at which the mark of an engine at rest is found
/** @type {Record<string, Place>} */
const SPANNER_PLACES = { on: [318, 232], off: [370, 268] };
const SPANNER_LONG = 125; // from the hand to the middle of its ring
const SCALE_FROM = 88;
const SCALE_TO = 128;

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function pulleyAndPointer(place) {
  const shade = shades();
  const picture = closeUpPicture();
  const mark = drawing("path", {
    class: "es-paint es-rim-mark",
    d: `M ${written(placeRound(CRANK, 66, 0))} L ${written(placeRound(CRANK, PULLEY_RIM - 2, 0))}`,
  });
  const blur = drawing("circle", { class: "es-rim-blur", cx: CRANK[0], cy: CRANK[1], r: PULLEY_RIM - 10 });
  const markName = nameAt([8, 150], "mark", "start", [42, 146], CRANK);
  const spokes = drawing(
    "g",
    {},
    ...[60, 180, 300].map((deg) =>
      drawing("path", { class: "es-hole", d: pieceOfRing(CRANK, 33, 50, deg - 32, deg + 32) }),
    ),
  );
  const spannerShape = drawing("g", { "data-part": "spanner" }, ringSpanner(shade));
  const spannerEnd = looseEnd(place, () => picture, {
    name: "spanner",
    places: SPANNER_PLACES,
    elsewhere: "off",
    draw: (at, choice) =>
      setAttribute(
        spannerShape,
        "transform",
        `translate(${at[0]} ${at[1]}) rotate(${choice === "on" ? 12 : 90})`,
      ),
  });
  const spanner = offered(place, "spanner");
  const unchecked = drawing("path", {
    class: "es-unchecked",
    d: "M 84 4 H 312 L 302 316 H 94 Z",
    "data-part": "fan_area",
  });
  const light = drawing(
    "g",
    {},
    drawing("path", { class: "es-beam", d: "M 336 32 L 168 100 L 232 136 L 330 56 Z" }),
    drawing(
      "g",
      { transform: "translate(380 8) scale(-1 1) rotate(26)" },
      ...INSTRUMENTS.timing_light(shade),
    ),
  );
  const ring = (/** @type {number} */ r, /** @type {string} */ fill) =>
    drawing("circle", { class: "es-part", cx: CRANK[0], cy: CRANK[1], r, fill });
  picture.append(
    shade.defs,
    ...frontCover(shade),
    drawing("path", { class: "es-belt-edge", d: BELT_ROUND_CRANK }),
    drawing("path", { class: "es-belt es-wide-belt", d: BELT_ROUND_CRANK }),
    drawing("path", { class: "es-belt-rib", d: BELT_ROUND_CRANK }),
    drawing(
      "g",
      { "data-part": "crank_mark" },
      ring(PULLEY_RIM, shade.black),
      ring(62, shade.metal),
      spokes,
      ring(27, shade.shaded),
      blur,
      mark,
    ),
    ...pointerScale(shade),
    unchecked,
    ring(20, shade.metal),
    drawing("path", { class: "es-part es-bright", d: hexagonRound(CRANK, 14) }),
    drawing("circle", { class: "es-seam", cx: CRANK[0], cy: CRANK[1], r: 8.5 }),
    light,
    ...(spanner ? [spannerShape, spannerEnd.grip] : []),
    nameAt([8, 214], "pulley", "start", [52, 209], [CRANK[0] - 54, CRANK[1]]),
    markName,
    nameAt([8, 26], "belt", "start", [38, 24], [132, 24]),
    nameAt([392, 116], "scale", "end", [354, 112], [276, 118]),
    nameAt([8, 312], "front cover", "start", [60, 298], [92, 286]),
    ...(spanner ? [nameAt([394, 310], "spanner", "end")] : []),
  );
  let held = false;
  let turned = 0;
  const drawMark = (/** @type {number | null} */ deg) => {
    const turn = deg === null ? OUT_OF_SIGHT : markTurn(deg);
    pointTo(markName, [42, 146], placeRound(CRANK, PULLEY_RIM - 10, turn));
    for (const part of [mark, spokes])
      setAttribute(part, "transform", `rotate(${turn.toFixed(2)} ${CRANK[0]} ${CRANK[1]})`);
  };
  const handle = place.handle("crank_mark");
  if (handle) {
    handle.drawnBy((value) => {
      turned = value;
      if (held) drawMark(value);
    });
    // An earlier mark stands further anticlockwise on the rim.
    const grip = /** @type {SVGGElement} */ (picture.querySelector("[data-part=crank_mark]"));
    turnByDragging(grip, handle, () => crankOnScreen(picture), -1);
  }
  return {
    name: "pulley",
    called: "Pulley",
    title: "Pulley, mark and scale",
    picture,
    controls: ["crank_mark", "spanner", "fan_area"],
    show: ({ settings, running, cranking, mark_deg }) => {
      setAttribute(unchecked, "visibility", settings.fan_area === "clear" ? "hidden" : "visible");
      held = settings.spanner === "on";
      spannerEnd.show(String(settings.spanner ?? "off"));
      const turns = Boolean(running || cranking);
      const lit = turns && settings.timing_light === "on" && mark_deg !== null && mark_deg !== undefined;
      setAttribute(light, "visibility", lit ? "visible" : "hidden");
      setAttribute(blur, "visibility", turns ? "visible" : "hidden");
      for (const part of [mark, spokes, markName])
        setAttribute(part, "visibility", turns && !lit ? "hidden" : "visible");
      drawMark(lit ? (mark_deg ?? null) : held ? turned : null);
    },
  };
}

// Down on one side, round below the crank, and up to the fan's pulley above the picture.
const BELT_ROUND_CRANK = `M 138.4 -10 L 114.5 196.6 A 82 82 0 1 0 277.5 196.6 L 253.6 -10`;

/** @param {Shades} shade */
function frontCover(shade) {
  const bolts = [
    [88, 60],
    [304, 60],
    [90, 270],
    [302, 270],
  ].map(([x, y]) => drawing("g", { transform: `translate(${x} ${y})` }, boltHead(7, shade.metal)));
  return [
    drawing("path", {
      class: "es-part",
      d: "M 62 66 Q 62 34 94 34 H 298 Q 330 34 330 66 L 326 266 Q 324 304 286 312 H 106 Q 68 304 66 266 Z",
      fill: shade.shaded,
    }),
    drawing("path", {
      class: "es-seam",
      d: "M 72 70 Q 72 44 98 44 H 294 Q 320 44 320 70 L 316 262 Q 314 296 282 302 H 110 Q 78 296 76 262 Z",
    }),
    ...bolts,
  ];
}

// A ring that closes round the bolt, and a handle; the hand is at the origin.
/** @param {Shades} shade */
function ringSpanner(shade) {
  const ring = -SPANNER_LONG;
  const hole = hexagonRound([ring, 0], 15);
  return drawing("path", {
    class: "es-part",
    d: `M ${ring + 21} -9 Q ${ring + 34} -6 ${ring + 46} -6 H 8 Q 18 -6 18 0 T 8 6 H ${ring + 46} Q ${ring + 34} 6 ${ring + 21} 9 A 23 23 0 1 1 ${ring + 21} -9 Z ${hole} M 11 0 A 3 3 0 1 0 5 0 A 3 3 0 1 0 11 0 Z`,
    fill: shade.level,
    "fill-rule": "evenodd",
  });
}

// The scale of the timing light's tile, on a plate at the cover: wider than true, so that single degrees can be told
// apart. It stands before the belt.
/** @param {Shades} shade */
function pointerScale(shade) {
  const plate = pieceOfRing(CRANK, SCALE_FROM, SCALE_TO, markTurn(40) - 8, markTurn(-10) + 9);
  /** @type {Element[]} */
  const lines = [drawing("path", { class: "es-part", d: plate, fill: shade.metal })];
  for (let deg = -10; deg <= 40; deg += 2) {
    const long = deg % 10 === 0;
    const turn = markTurn(deg);
    const ends = [SCALE_FROM + 1, SCALE_FROM + (long ? 15 : 9)].map((one) =>
      written(placeRound(CRANK, one, turn)),
    );
    lines.push(drawing("path", { class: long ? "es-scale-long" : "es-scale", d: `M ${ends.join(" L ")}` }));
    if (!long) continue;
    const [x, y] = placeRound(CRANK, SCALE_FROM + 26, turn);
    const number = drawing(
      "text",
      { class: "es-scale-number", x, y, "text-anchor": "middle" },
      String(Math.abs(deg)),
    );
    lines.push(number);
  }
  return lines;
}

/**
 * @param {Place} centre
 * @param {number} radius
 */
function hexagonRound(centre, radius) {
  return `M ${[0, 60, 120, 180, 240, 300].map((deg) => written(placeRound(centre, radius, deg))).join(" L ")} Z`;
}

/**
 * @param {SVGSVGElement} picture
 * @returns {Place}
 */
function crankOnScreen(picture) {
  const place = new DOMPoint(...CRANK).matrixTransform(picture.getScreenCTM() ?? undefined);
  return [place.x, place.y];
}
