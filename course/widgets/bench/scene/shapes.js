// What the pictures of the engine are drawn with: places round a centre, shading from one side, hoses, names.

import { drawing, freshId, setAttribute } from "../../shared/elements.js";

/**
 * @typedef {[x: number, y: number]} Place
 * @typedef {{ root: SVGGElement, lay: (d: string) => void }} Hose
 * @typedef {{ defs: SVGDefsElement, metal: string, shaded: string, black: string, round: string, level: string, blackRound: string, brass: string, brassLevel: string, bright: string, bore: string, shadow: string }} Shades
 */

// A close-up is 400 wide at every size, so that its letters of 13 stay above 12 pixels on a narrow page.
export const CLOSE_UP_BOX = "0 0 400 320";

// A place at `radius` round a centre, `deg` clockwise of straight up.
/**
 * @param {Place} centre
 * @param {number} radius
 * @param {number} deg
 * @returns {Place}
 */
export function placeRound([x, y], radius, deg) {
  const turn = (deg * Math.PI) / 180;
  return [x + radius * Math.sin(turn), y - radius * Math.cos(turn)];
}

/** @param {Place} place */
export function written([x, y]) {
  return `${x.toFixed(1)} ${y.toFixed(1)}`;
}

// The outline of a piece of a ring, from one angle to a larger one.
/**
 * @param {Place} centre
 * @param {number} inner
 * @param {number} outer
 * @param {number} from
 * @param {number} to
 */
export function pieceOfRing(centre, inner, outer, from, to) {
  const far = to - from > 180 ? 1 : 0;
  const at = (/** @type {number} */ radius, /** @type {number} */ deg) =>
    written(placeRound(centre, radius, deg));
  return (
    `M ${at(outer, from)} A ${outer} ${outer} 0 ${far} 1 ${at(outer, to)} ` +
    `L ${at(inner, to)} A ${inner} ${inner} 0 ${far} 0 ${at(inner, from)} Z`
  );
}

/**
 * @param {Place} centre
 * @param {number} radius
 * @param {number} from
 * @param {number} to
 */
export function arcRound(centre, radius, from, to) {
  const way = to > from ? 1 : 0;
  const far = Math.abs(to - from) > 180 ? 1 : 0;
  return `M ${written(placeRound(centre, radius, from))} A ${radius} ${radius} 0 ${far} ${way} ${written(placeRound(centre, radius, to))}`;
}

// Light falls from the upper left on all parts; what is round has its light along it, wherever it is. Each picture has
// shades of its own, by ids of its own.
/** @type {Record<string, [to: Place, stops: [name: string, percent: number][]]>} */
const SHADES = {
  metal: [
    [1, 1],
    [
      ["light", 0],
      ["middle", 50],
      ["dark", 100],
    ],
  ],
  shaded: [
    [1, 1],
    [
      ["middle", 0],
      ["dark", 100],
    ],
  ],
  black: [
    [1, 1],
    [
      ["shine", 0],
      ["black", 50],
      ["black", 100],
    ],
  ],
  round: [
    [1, 0],
    [
      ["middle", 0],
      ["light", 28],
      ["middle", 58],
      ["dark", 100],
    ],
  ],
  level: [
    [0, 1],
    [
      ["middle", 0],
      ["light", 25],
      ["middle", 58],
      ["dark", 100],
    ],
  ],
  blackRound: [
    [1, 0],
    [
      ["black", 0],
      ["shine", 28],
      ["black", 60],
      ["black", 100],
    ],
  ],
  brass: [
    [1, 0],
    [
      ["brass", 0],
      ["gleam", 30],
      ["brass", 60],
      ["bronze", 100],
    ],
  ],
  brassLevel: [
    [0, 1],
    [
      ["brass", 0],
      ["gleam", 30],
      ["brass", 60],
      ["bronze", 100],
    ],
  ],
  bright: [
    [1, 1],
    [
      ["white", 0],
      ["light", 60],
      ["middle", 100],
    ],
  ],
  // What is hollow has its light on the far side.
  bore: [
    [1, 0],
    [
      ["soot", 0],
      ["iron", 45],
      ["dark", 80],
      ["iron", 100],
    ],
  ],
};

/** @param {[stop: string, percent: number][]} stops */
function stopsOf(stops) {
  return stops.map(([stop, percent]) =>
    drawing("stop", { class: `es-stop-${stop}`, offset: `${percent.toFixed(0)}%` }),
  );
}

// A shade of its own for one part: evenly from one place of the picture to another, by the names of its stops.
/**
 * @param {SVGDefsElement} defs
 * @param {Place} from
 * @param {Place} to
 * @param {string[]} stops
 */
export function shadeFrom(defs, [x1, y1], [x2, y2], stops) {
  const id = freshId("es-shade");
  const spread = stops.map(
    (stop, index) => /** @type {[string, number]} */ ([stop, (100 * index) / (stops.length - 1)]),
  );
  defs.append(
    drawing("linearGradient", { id, x1, y1, x2, y2, gradientUnits: "userSpaceOnUse" }, ...stopsOf(spread)),
  );
  return `url(#${id})`;
}

/** @returns {Shades} */
export function shades() {
  const named = Object.entries(SHADES).map(([name, [[x2, y2], stops]]) => {
    const id = freshId(`es-${name}`);
    const drawn = drawing("linearGradient", { id, x1: 0, y1: 0, x2, y2 }, ...stopsOf(stops));
    return { name, id, drawn };
  });
  const shadow = drawing(
    "radialGradient",
    { id: freshId("es-shadow") },
    ...stopsOf([
      ["shadow", 0],
      ["shadow", 55],
      ["nothing", 100],
    ]),
  );
  const fills = Object.fromEntries(named.map(({ name, id }) => [name, `url(#${id})`]));
  const defs = drawing("defs", {}, shadow, ...named.map(({ drawn }) => drawn));
  return /** @type {Shades} */ ({ ...fills, shadow: `url(#${shadow.id})`, defs });
}

/** @param {...Place} places */
export function outline(...places) {
  return `M ${places.map(written).join(" L ")} Z`;
}

// The same with its corners rounded, each from `radius` before it to as far behind.
/**
 * @param {Place[]} places
 * @param {number} radius
 */
export function rounded(places, radius) {
  const from = (/** @type {Place} */ [x, y], /** @type {Place} */ [toX, toY]) => {
    const share = Math.min(radius / Math.hypot(toX - x, toY - y), 0.5);
    return written([x + (toX - x) * share, y + (toY - y) * share]);
  };
  const corners = places.map((at, index) => {
    const before = places.at(index - 1) ?? at;
    const after = places[(index + 1) % places.length];
    return `${index ? "L" : "M"} ${from(at, before)} Q ${written(at)} ${from(at, after)}`;
  });
  return `${corners.join(" ")} Z`;
}

// A hose or a lead: a dark edge, its colour, and the light along it. `kind` is vacuum, primary, tension or fuel.
/**
 * @param {string} kind
 * @returns {Hose}
 */
export function hoseOf(kind) {
  const strokes = ["edge", "core", "shine"].map((layer) =>
    drawing("path", { class: `es-hose-${layer} es-${kind}` }),
  );
  return {
    root: drawing("g", { class: "es-hose" }, ...strokes),
    lay: (d) => {
      for (const stroke of strokes) setAttribute(stroke, "d", d);
    },
  };
}

// The name of a part in the picture, with a line to it where it is not right at it.
/**
 * @param {Place} at
 * @param {string} text
 * @param {"start" | "middle" | "end"} anchor
 * @param {Place | null} from
 * @param {Place | null} to
 */
export function nameAt([x, y], text, anchor = "start", from = null, to = null) {
  const words = drawing("text", { class: "es-name", x, y, "text-anchor": anchor }, text);
  if (!from || !to) return drawing("g", {}, words);
  return drawing("g", {}, drawing("path", { class: "es-leader", d: `M ${from} L ${to}` }), words);
}

// The line of a name, to a part that moves.
/**
 * @param {Element} name
 * @param {Place} from
 * @param {Place} to
 */
export function pointTo(name, from, to) {
  const line = name.querySelector("path");
  if (line) setAttribute(line, "d", `M ${written(from)} L ${written(to)}`);
}

// The six-sided head of a bolt on its washer.
/**
 * @param {number} radius
 * @param {string} fill
 */
export function boltHead(radius, fill) {
  const corners = [0, 60, 120, 180, 240, 300].map((deg) => written(placeRound([0, 0], radius, deg)));
  return drawing(
    "g",
    {},
    drawing("circle", { class: "es-part", r: radius * 1.35, fill }),
    drawing("path", { class: "es-part es-bright", d: `M ${corners.join(" L ")} Z` }),
    drawing("circle", { class: "es-part", r: radius * 0.5, fill }),
  );
}

// What a finger may touch around a part that is smaller than it.
/** @param {Place} at */
export function touchHere([cx, cy] = [0, 0]) {
  return drawing("circle", { class: "es-touch-here", cx, cy, r: 20.3 });
}

// The slotted head of a screw, its slot turned by what is returned with it.
/**
 * @param {number} radius
 * @param {string} fill
 */
export function screwHead(radius, fill) {
  const slot = drawing("rect", {
    class: "es-slot",
    x: -radius * 0.82,
    y: -radius * 0.11,
    width: radius * 1.64,
    height: radius * 0.22,
  });
  const root = drawing("g", {}, drawing("circle", { class: "es-part", r: radius, fill }), slot);
  return {
    root,
    turn: (/** @type {number} */ turns) =>
      setAttribute(slot, "transform", `rotate(${((turns % 1) * 360).toFixed(1)})`),
  };
}

/**
 * @param {...Element} parts
 */
export function closeUpPicture(...parts) {
  return drawing(
    "svg",
    { class: "es-picture", viewBox: CLOSE_UP_BOX, "aria-hidden": "true", focusable: "false" },
    ...parts,
  );
}

// What is cut open: the metal that the cut goes through is hatched, as on paper.
/**
 * @param {SVGDefsElement} defs
 * @param {string} d its outline
 */
export function cutThrough(defs, d) {
  const id = freshId("es-hatch");
  defs.append(
    drawing(
      "pattern",
      { id, width: 6, height: 6, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      drawing("path", { class: "es-hatch", d: "M 0 0 V 6" }),
    ),
  );
  return [
    drawing("path", { class: "es-part es-bright", d }),
    drawing("path", { class: "es-cut", d, fill: `url(#${id})` }),
  ];
}

// Where a pointer is, in the units of the picture.
/**
 * @param {SVGSVGElement} picture
 * @param {PointerEvent} event
 * @returns {Place}
 */
export function placeOfPointer(picture, event) {
  const back = picture.getScreenCTM()?.inverse();
  const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(back);
  return [x, y];
}
