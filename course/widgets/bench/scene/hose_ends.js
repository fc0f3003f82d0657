// Hose ends and fittings: the vacuum advance hose between carburettor or manifold and the vacuum unit, its plug, and the
// hose of the vacuum gauge with the two fittings that it can go on.

import { drawing, setAttribute } from "../../shared/elements.js";
import { layHose, looseEnd } from "./loose_end.js";
import { closeUpPicture, hoseOf, nameAt, pointTo, shades } from "./shapes.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const NIPPLE = [300, 92];
/** @type {Place} */
const PLUG = [356, 262];
/** @type {Record<string, Place>} */
const ADVANCE_HOSE_PLACES = {
  on: NIPPLE,
  "off and open": [292, 190],
  "off and plugged": PLUG,
};
/** @type {Record<string, Place>} */
const GAUGE_HOSE_PLACES = { none: [206, 300], manifold: [128, 212], ported: [78, 112] };
/** @type {Record<string, { from: Place, leaves: Place }>} */
const HOSE_COMES_FROM = {
  ported: { from: [176, 112], leaves: [50, 0] },
  manifold: { from: [206, 214], leaves: [0, -50] },
};

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function hoseEnds(place) {
  const shade = shades();
  const source = HOSE_COMES_FROM[place.facts.vacuum_source ?? "ported"] ?? HOSE_COMES_FROM.ported;
  const advanceHose = hoseOf("vacuum");
  const gaugeHose = hoseOf("vacuum");
  const plug = drawing("path", {
    class: "es-part es-plug",
    d: "M -5 -9 H 5 V 5 H 11 V 12 H -11 V 5 H -5 Z",
  });
  const pointer = drawing("path", { class: "es-pointer", d: "M 0 6 V -22" });
  const hoseName = nameAt([232, 54], "advance hose", "middle", [232, 60], source.from);
  /** @type {SVGSVGElement} */
  const picture = closeUpPicture();
  const advance = looseEnd(place, () => picture, {
    name: "vacuum_hose",
    places: ADVANCE_HOSE_PLACES,
    elsewhere: "off and open",
    draw: (at, choice) => {
      const arrives = /** @type {Place} */ (choice === "on" ? [-60, 0] : [-10, -70]);
      pointTo(hoseName, [232, 60], layHose(advanceHose, source.from, source.leaves, arrives, at));
      const plugged = choice === "off and plugged";
      setAttribute(plug, "transform", `translate(${PLUG[0]} ${PLUG[1] + (plugged ? 4 : 12)})`);
    },
  });
  const gauge = looseEnd(place, () => picture, {
    name: "gauge_hose",
    places: GAUGE_HOSE_PLACES,
    elsewhere: "none",
    draw: (at, choice) => {
      const arrives = /** @type {Place} */ (
        choice === "manifold" ? [0, -46] : choice === "ported" ? [-56, 0] : [-36, 20]
      );
      layHose(gaugeHose, [52, 242], [0, -50], arrives, at);
    },
  });
  picture.append(
    shade.defs,
    ...carburettorOnManifold(shade),
    ...unitWithNipple(shade),
    drawing("rect", { class: "es-part", x: 316, y: 276, width: 80, height: 12, rx: 3, fill: shade.shaded }),
    plug,
    drawing(
      "g",
      { transform: "translate(52 270)" },
      drawing("circle", { class: "es-part", r: 35, fill: shade.metal }),
      drawing("circle", { class: "es-face", r: 28 }),
      drawing("path", { class: "es-face-scale", d: "M -17 17 A 24 24 0 1 1 17 17" }),
      pointer,
      drawing("circle", { class: "es-slot", r: 4 }),
    ),
    drawing("g", { "data-part": "vacuum_hose" }, advanceHose.root),
    drawing("g", { "data-part": "gauge_hose" }, gaugeHose.root),
    nameAt([392, 30], "vacuum unit", "end"),
    nameAt([300, 154], "its nipple", "start", [320, 140], [304, 99]),
    nameAt([392, 310], "plug", "end"),
    nameAt([8, 84], "ported fitting", "start", [72, 90], [98, 108]),
    nameAt([214, 178], "throttle plate", "start", [222, 164], [158, 134]),
    nameAt([98, 272], "manifold fitting", "start", [128, 259], [128, 222]),
    nameAt([236, 272], "manifold", "start", [256, 259], [256, 244]),
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

/** @param {Shades} shade */
function carburettorOnManifold(shade) {
  return [
    drawing("path", {
      class: "es-part",
      d: "M 96 228 C 96 216 104 214 116 214 H 250 C 270 214 284 222 300 236 V 250 H 96 Z",
      fill: shade.shaded,
      "data-part": "manifold",
    }),
    drawing("path", {
      class: "es-part",
      d: "M 108 42 H 168 L 162 60 V 176 H 172 V 188 H 104 V 176 H 114 V 60 Z",
      fill: shade.metal,
      "data-part": "carburettor",
    }),
    drawing("path", { class: "es-part", d: "M 118 188 H 158 V 216 H 118 Z", fill: shade.shaded }),
    drawing("path", { class: "es-bore", d: "M 126 44 H 150 V 186 H 126 Z" }),
    drawing("path", { class: "es-plate", d: "M 125 136 L 151 128" }),
    // Both fittings of the carburettor are above the plate; those of the manifold are below it.
    drawing("path", {
      class: "es-part es-bright",
      d: "M 114 108 H 86 V 116 H 114 Z M 162 108 H 178 V 116 H 162 Z M 124 214 V 204 H 132 V 214 Z M 202 214 V 202 H 210 V 214 Z",
    }),
  ];
}

/** @param {Shades} shade */
function unitWithNipple(shade) {
  return [
    drawing("path", { class: "es-rod", d: "M 356 92 H 400" }),
    drawing("path", { class: "es-part", d: "M 352 48 H 362 V 136 H 352 Z", fill: shade.shaded }),
    drawing("path", {
      class: "es-part es-brass",
      d: "M 352 50 C 322 52 316 78 316 92 S 322 132 352 134 Z",
      "data-part": "vacuum_unit",
    }),
    drawing("path", { class: "es-part es-bright", d: "M 317 88 H 296 V 96 H 317 Z" }),
  ];
}
