// Hose ends and fittings: the vacuum advance hose between carburettor or manifold and the vacuum unit, its plug, and the
// hose of the vacuum gauge with the two fittings that it can go on.

import { drawing, setAttribute } from "../../shared/elements.js";
import { layHose, looseEnd } from "./loose_end.js";
import { closeUpPicture, cutThrough, hoseOf, nameAt, pointTo, shades, written } from "./shapes.js";
import { brokenOff } from "./small_parts.js";
import { scaleRound } from "./testers.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const NIPPLE = [290, 92];
/** @type {Place} */
const PLUG = [356, 262];
/** @type {Record<string, Place>} */
const ADVANCE_HOSE_PLACES = {
  on: NIPPLE,
  "off and open": [346, 216],
  "off and plugged": PLUG,
};
/** @type {Record<string, Place>} */
const GAUGE_HOSE_PLACES = { none: [26, 186], manifold: [108, 208], ported: [112, 112] };
// Where the advance hose begins, the way it leaves, and the fitting of the other source, which has a cap on it.
/** @type {Record<string, { from: Place, leaves: Place }>} */
const HOSE_COMES_FROM = {
  ported: { from: [206, 112], leaves: [50, 0] },
  manifold: { from: [284, 206], leaves: [0, -50] },
};
// Which way an end points where it is put, clockwise of down; an end in the hand points down.
/** @type {Record<string, number>} */
const POINTS = { on: -90, ported: -90, "off and open": 10 };

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function hoseEnds(place) {
  const shade = shades();
  const source = HOSE_COMES_FROM[place.facts.vacuum_source ?? "ported"] ?? HOSE_COMES_FROM.ported;
  const [advanceHose, gaugeHose] = [hoseOf("vacuum"), hoseOf("vacuum")];
  const [advanceEnd, gaugeEnd, firstEnd] = [hoseCuff(), hoseCuff(), hoseCuff()];
  firstEnd.put(source.from, source === HOSE_COMES_FROM.ported ? 90 : 0);
  const other = source === HOSE_COMES_FROM.ported ? HOSE_COMES_FROM.manifold : HOSE_COMES_FROM.ported;
  const plug = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-part es-plug",
      d: "M -4 -11 H 4 L 6 3 H 10 V 8 H 4 V 13 H 8 V 18 H -8 V 13 H -4 V 8 H -10 V 3 H -6 Z",
    }),
  );
  const pointer = drawing("path", { class: "es-pointer", d: "M 0 6 V -21" });
  const caps = { ported: fittingCap([112, 112], 90), manifold: fittingCap([108, 206], 180) };
  const hoseName = nameAt([246, 60], "advance hose", "middle", [246, 66], source.from);
  /** @type {SVGSVGElement} */
  const picture = closeUpPicture();
  const advance = looseEnd(place, () => picture, {
    name: "vacuum_hose",
    places: ADVANCE_HOSE_PLACES,
    elsewhere: "off and open",
    draw: (at, choice) => {
      const from = advanceEnd.put(at, POINTS[choice] ?? 0);
      const arrives = /** @type {Place} */ (
        choice === "on" ? [-50, 0] : choice === "off and open" ? [-4, -34] : [-8, -60]
      );
      pointTo(hoseName, [246, 66], layHose(advanceHose, source.from, source.leaves, arrives, from));
      const plugged = choice === "off and plugged";
      setAttribute(plug, "transform", `translate(${PLUG[0]} ${PLUG[1] + (plugged ? 1 : 14)})`);
    },
  });
  const gauge = looseEnd(place, () => picture, {
    name: "gauge_hose",
    places: GAUGE_HOSE_PLACES,
    elsewhere: "none",
    draw: (at, choice) => {
      const end = gaugeEnd.put(at, POINTS[choice] ?? 0);
      const arrives = /** @type {Place} */ (
        choice === "ported" ? [-44, 0] : choice === "none" ? [-4, -50] : [0, -40]
      );
      layHose(gaugeHose, [52, 232], [0, -40], arrives, end);
    },
  });
  picture.append(
    shade.defs,
    ...carburettorOnManifold(shade),
    ...unitOnDistributor(shade),
    fittingCap(other.from, other === HOSE_COMES_FROM.ported ? -90 : 180),
    ...Object.values(caps),
    drawing("path", {
      class: "es-part",
      d: "M 316 284 H 396 Q 394 300 384 300 H 328 Q 318 300 316 284 Z",
      fill: shade.level,
    }),
    drawing("g", { "data-part": "vacuum_hose" }, advanceHose.root, firstEnd.root, advanceEnd.root),
    plug,
    drawing("g", { "data-part": "gauge_hose" }, gaugeHose.root, gaugeEnd.root),
    drawing(
      "g",
      { transform: "translate(52 270)" },
      drawing("path", { class: "es-part es-fine", d: "M -6 -30 V -44 H 6 V -30 Z", fill: shade.brass }),
      drawing("circle", { class: "es-part", r: 36, fill: shade.metal }),
      drawing("circle", { class: "es-face", r: 29 }),
      scaleRound([0, 0], 25, 135, 13),
      pointer,
      drawing("circle", { class: "es-slot", r: 4 }),
    ),
    nameAt([314, 30], "vacuum unit", "end", [296, 35], [312, 62]),
    nameAt([396, 30], "distributor", "end"),
    nameAt([318, 150], "nipple", "start", [322, 138], [294, 99]),
    nameAt([312, 300], "plug", "end", [314, 294], [346, 286]),
    nameAt([8, 84], "ported fitting", "start", [72, 90], [122, 108]),
    nameAt([188, 184], "throttle plate", "start", [202, 170], [168, 143]),
    nameAt([98, 276], "manifold fitting", "start", [118, 263], [109, 216]),
    nameAt([228, 276], "manifold", "start", [250, 263], [250, 244]),
    nameAt([94, 312], "vacuum gauge", "start"),
    hoseName,
    advance.grip,
    gauge.grip,
  );
  return {
    name: "hoses",
    called: "Hoses",
    title: "Hose ends and fittings",
    picture,
    controls: ["vacuum_hose", "gauge_hose"],
    show: ({ settings, running }) => {
      for (const [name, cap] of Object.entries(caps))
        setAttribute(cap, "visibility", settings.gauge_hose === name ? "hidden" : "visible");
      advance.show(String(settings.vacuum_hose));
      gauge.show(String(settings.gauge_hose));
      const pulls =
        running &&
        (settings.gauge_hose === "manifold" ||
          (settings.gauge_hose === "ported" && Number(settings.throttle) > 0));
      setAttribute(pointer, "transform", `rotate(${pulls ? 20 : -135})`);
    },
  };
}

// The end of a hose: a cuff with its opening. `put` returns where the hose runs into it; it points down at 0 degrees.
function hoseCuff() {
  const root = drawing(
    "g",
    {},
    drawing("path", { class: "es-cuff", d: "M -5.5 -15 L -7 -11 V 3 A 7 2.6 0 0 0 7 3 V -11 L 5.5 -15 Z" }),
    drawing("path", { class: "es-slot", d: "M -5.4 3 A 5.4 1.7 0 0 0 5.4 3 A 5.4 1.7 0 0 0 -5.4 3 Z" }),
  );
  return {
    root,
    put: (/** @type {Place} */ at, /** @type {number} */ deg) => {
      setAttribute(root, "transform", `translate(${written(at)}) rotate(${deg})`);
      const turn = (deg * Math.PI) / 180;
      return /** @type {Place} */ ([at[0] + 12 * Math.sin(turn), at[1] - 12 * Math.cos(turn)]);
    },
  };
}

// The rubber cap of a fitting that nothing is on.
/**
 * @param {Place} at
 * @param {number} deg
 */
function fittingCap(at, deg) {
  return drawing("path", {
    class: "es-boot",
    d: "M -6 -6 H 6 V 6 Q 6 10 0 10 T -6 6 Z",
    transform: `translate(${written(at)}) rotate(${deg})`,
  });
}

// Cut open along the bore. Both fittings of the carburettor are above the plate; those of the manifold are below it.
/** @param {Shades} shade */
function carburettorOnManifold(shade) {
  const barb = (/** @type {number} */ x, /** @type {number} */ y, /** @type {number} */ deg) =>
    drawing("path", {
      class: "es-part es-fine",
      d: "M -7 0 V -4 H -4 V -8 L -5 -9 L -4 -13 L -5 -14 L -3 -19 H 3 L 5 -14 L 4 -13 L 5 -9 L 4 -8 V -4 H 7 V 0 Z",
      fill: shade.brass,
      transform: `translate(${x} ${y}) rotate(${deg})`,
    });
  return [
    ...[112, 172, 246].map((x) =>
      drawing("path", {
        class: "es-part",
        d: `M ${x} 240 H ${x + 40} V 254 H ${x + 46} V 262 H ${x - 6} V 254 H ${x} Z`,
        fill: shade.shaded,
      }),
    ),
    drawing("path", {
      class: "es-part",
      d: "M 90 234 Q 90 216 108 216 H 292 Q 312 216 312 234 T 292 250 H 108 Q 90 250 90 234 Z",
      fill: shade.level,
      "data-part": "manifold",
    }),
    drawing("path", { class: "es-part", d: "M 126 198 H 190 V 216 H 126 Z", fill: shade.shaded }),
    ...[130, 176].map((x) =>
      drawing("path", { class: "es-part es-bright es-fine", d: `M ${x} 198 V 191 H ${x + 10} V 198 Z` }),
    ),
    ...cutThrough(
      shade.defs,
      "M 116 30 H 200 Q 202 38 192 46 Q 184 54 184 66 V 198 H 132 V 66 Q 132 54 124 46 Q 114 38 116 30 Z",
    ),
    drawing("path", {
      class: "es-hollow",
      d: "M 128 30 H 188 Q 176 42 176 58 C 176 70 168 72 168 82 C 168 92 176 94 176 104 V 216 H 140 V 104 C 140 94 148 92 148 82 C 148 72 140 70 140 58 Q 140 42 128 30 Z",
      fill: shade.bore,
    }),
    drawing("path", { class: "es-jet-edge", d: "M 132 90 H 144 L 150 86 H 158" }),
    drawing("path", { class: "es-jet", d: "M 132 90 H 144 L 150 86 H 159" }),
    drawing("path", { class: "es-plate-edge", d: "M 161 40 L 155 68" }),
    drawing("path", { class: "es-plate", d: "M 161 40 L 155 68" }),
    drawing("path", { class: "es-slot", d: "M 132 111 H 141 V 113 H 132 Z M 175 111 H 184 V 113 H 175 Z" }),
    drawing(
      "g",
      { transform: "translate(158 138) rotate(-8)" },
      drawing("path", { class: "es-plate-edge", d: "M -15 0 H 15" }),
      drawing("path", { class: "es-plate", d: "M -15 0 H 15" }),
      drawing("circle", { class: "es-part es-bright es-fine", r: 3.6 }),
    ),
    barb(132, 112, -90),
    barb(184, 112, 90),
    barb(108, 218, 0),
    barb(284, 217, 0),
  ];
}

// The unit's rod goes to the plate within the distributor, which is seen from the side.
/** @param {Shades} shade */
function unitOnDistributor(shade) {
  return [
    drawing("path", { class: "es-rod", d: "M 346 92 H 372" }),
    drawing("path", { class: "es-part", d: "M 344 106 H 372 V 114 H 344 Z", fill: shade.level }),
    drawing("path", {
      class: "es-part",
      d: `M 364 76 H 396 V 128 H 390 V 150 ${brokenOff([390, 150], [370, 150])} V 128 H 364 Z`,
      fill: shade.round,
    }),
    drawing("path", {
      class: "es-cap",
      d: "M 361 78 V 66 L 367 56 H 393 L 399 66 V 78 Z",
      fill: shade.blackRound,
    }),
    ...[368, 377, 386].map((x) =>
      drawing("path", {
        class: "es-cap es-fine",
        d: `M ${x} 58 V 44 H ${x + 6} V 58 Z`,
        fill: shade.blackRound,
      }),
    ),
    drawing("path", { class: "es-part es-bright es-fine", d: "M 377 70 H 383 L 384 88 H 376 Z" }),
    drawing("path", {
      class: "es-part es-fine",
      d: "M 310 88 H 299 L 297 86 L 294 88 L 292 86 L 286 89 V 95 L 292 98 L 294 96 L 297 98 L 299 96 H 310 Z",
      fill: shade.brassLevel,
    }),
    drawing("path", {
      class: "es-part",
      d: "M 336 52 C 312 54 306 78 306 92 S 312 130 336 132 Z",
      fill: shade.brassLevel,
      "data-part": "vacuum_unit",
    }),
    drawing("path", {
      class: "es-part",
      d: "M 335 48 H 345 Q 348 48 348 52 V 132 Q 348 136 345 136 H 335 Z",
      fill: shade.level,
    }),
    drawing("path", { class: "es-seam", d: "M 341.5 49 V 135" }),
  ];
}
