// The crank's pulley with its mark, under the scale and pointer on the front cover, and the belt that runs over it.

import { drawing, setAttribute } from "../../shared/elements.js";
import { markTurn } from "../pulley_picture.js";
import { turnByDragging } from "./geared_drag.js";
import { offered } from "./handles.js";
import { looseEnd } from "./loose_end.js";
import { closeUpPicture, nameAt, placeRound, pointTo, shades, written } from "./shapes.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place } from "./shapes.js"
 */

/** @type {Place} */
const CRANK = [196, 206];
const PULLEY_RIM = 84;
const OUT_OF_SIGHT = 150; // degrees of the drawing at which the mark of an engine at rest is found
/** @type {Record<string, Place>} */
const SPANNER_PLACES = { on: [318, 232], off: [378, 300] };

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function pulleyAndPointer(place) {
  const shade = shades();
  const picture = closeUpPicture();
  const mark = drawing("path", {
    class: "es-paint es-rim-mark",
    d: `M ${written(placeRound(CRANK, PULLEY_RIM - 14, 0))} L ${written(placeRound(CRANK, PULLEY_RIM - 1, 0))}`,
  });
  const blur = drawing("circle", { class: "es-rim-blur", cx: CRANK[0], cy: CRANK[1], r: PULLEY_RIM - 8 });
  const markName = nameAt([8, 150], "mark", "start", [40, 146], CRANK);
  const spokes = drawing(
    "g",
    {},
    ...[0, 120, 240].map((deg) => {
      const [cx, cy] = placeRound(CRANK, 44, deg + 60);
      return drawing("circle", { class: "es-hole", cx, cy, r: 13 });
    }),
  );
  const spannerShape = drawing("path", {
    class: "es-part",
    "data-part": "spanner",
    d: "M -138 -15 L -118 -20 L -108 -7 H 12 Q 18 0 12 7 H -108 L -118 20 L -138 15 L -126 0 Z",
    fill: shade.metal,
  });
  const spannerEnd = looseEnd(place, () => picture, {
    name: "spanner",
    places: SPANNER_PLACES,
    elsewhere: "off",
    draw: (at, choice) =>
      setAttribute(
        spannerShape,
        "transform",
        `translate(${at[0]} ${at[1]}) rotate(${choice === "on" ? 12 : 0})`,
      ),
  });
  const spanner = offered(place, "spanner");
  const unchecked = drawing("path", {
    class: "es-unchecked",
    d: "M 84 4 H 312 L 302 316 H 94 Z",
    "data-part": "fan_area",
  });
  const light = drawing("path", { class: "es-beam", d: `M 400 24 L 196 96 L 216 132 Z` });
  picture.append(
    shade.defs,
    drawing("path", {
      class: "es-part",
      d: "M 60 60 Q 70 34 110 30 H 290 Q 326 34 334 66 L 330 250 Q 320 312 250 316 H 142 Q 76 312 66 250 Z",
      fill: shade.shaded,
    }),
    ...[
      [84, 60],
      [310, 62],
      [84, 262],
      [306, 264],
    ].map(([x, y]) => drawing("circle", { class: "es-part es-bright", cx: x, cy: y, r: 7 })),
    ...pointerScale(),
    drawing("path", {
      class: "es-belt",
      d: `M ${CRANK[0] - PULLEY_RIM - 3} ${CRANK[1] + 8} L 128 -10 M ${CRANK[0] + PULLEY_RIM + 3} ${CRANK[1] + 8} L 268 -10`,
    }),
    drawing(
      "g",
      { "data-part": "crank_mark" },
      drawing("circle", { class: "es-belt-rim", cx: CRANK[0], cy: CRANK[1], r: PULLEY_RIM + 3 }),
      drawing("circle", { class: "es-part", cx: CRANK[0], cy: CRANK[1], r: PULLEY_RIM, fill: shade.metal }),
      spokes,
      blur,
      mark,
    ),
    unchecked,
    drawing("circle", { class: "es-part", cx: CRANK[0], cy: CRANK[1], r: 24, fill: shade.shaded }),
    drawing("path", { class: "es-part es-bright", d: nutOutline() }),
    light,
    ...(spanner ? [spannerShape, spannerEnd.grip] : []),
    nameAt([392, 206], "pulley", "end", [346, 202], [CRANK[0] + 76, CRANK[1]]),
    markName,
    nameAt([8, 26], "belt", "start", [38, 24], [124, 20]),
    nameAt([392, 92], "scale", "end", [354, 90], [286, 108]),
    nameAt([392, 20], "front cover", "end", [358, 25], [310, 50]),
    ...(spanner ? [nameAt([392, 274], "spanner", "end")] : []),
  );
  let held = false;
  let turned = 0;
  const drawMark = (/** @type {number | null} */ deg) => {
    const turn = deg === null ? OUT_OF_SIGHT : markTurn(deg);
    pointTo(markName, [40, 146], placeRound(CRANK, PULLEY_RIM - 8, turn));
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

// The scale of the timing light's tile, on the cover: wider than true, so that single degrees can be told apart.
function pointerScale() {
  const lines = [];
  for (let deg = -10; deg <= 40; deg += 2) {
    const long = deg % 10 === 0;
    const turn = markTurn(deg);
    const ends = [PULLEY_RIM + 7, PULLEY_RIM + (long ? 20 : 14)].map((one) =>
      written(placeRound(CRANK, one, turn)),
    );
    lines.push(drawing("path", { class: long ? "es-scale-long" : "es-scale", d: `M ${ends.join(" L ")}` }));
    if (deg % 20) continue; // there is no room for more numbers
    const [x, y] = placeRound(CRANK, PULLEY_RIM + 31, turn);
    lines.push(
      drawing("text", { class: "es-scale-number", x, y, "text-anchor": "middle" }, String(Math.abs(deg))),
    );
  }
  return lines;
}

function nutOutline() {
  return `M ${[0, 60, 120, 180, 240, 300].map((deg) => written(placeRound(CRANK, 15, deg))).join(" L ")} Z`;
}

/**
 * @param {SVGSVGElement} picture
 * @returns {Place}
 */
function crankOnScreen(picture) {
  const place = new DOMPoint(...CRANK).matrixTransform(picture.getScreenCTM() ?? undefined);
  return [place.x, place.y];
}
