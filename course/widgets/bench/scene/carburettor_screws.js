// The carburettor from the side of its screws: idle speed screw and mixture screw as heads that turn, the throttle with
// its lever, and the choke plate, which opens by itself as the engine warms up.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { turnByDragging } from "./geared_drag.js";
import { offered } from "./handles.js";
import {
  closeUpPicture,
  cutThrough,
  hoseOf,
  nameAt,
  placeRound,
  pointTo,
  shades,
  touchHere,
} from "./shapes.js";
import { screwWithSpring } from "./small_parts.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const IDLE_SCREW = [330, 258];
/** @type {Place} */
const MIXTURE_SCREW = [92, 184];
/** @type {Place} */
const SHAFT = [200, 142]; // of the throttle plate and its lever
/** @type {Place} */
const CHOKE_SHAFT = [200, 66];
const LEVER_RESTS_DEG = 24; // below level, with the idle screw all the way out
const LEVER_OPENS_DEG = 58;
const LEVER_PER_TURN_DEG = 2.2; // of the idle screw, on which the closed lever rests; wide enough to be seen
const LEVER_FOOT = 146; // from the shaft to where it rests on the screw

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function carburettorScrews(place) {
  const shade = shades();
  const idle = screwWithSpring(shade, 17, 18);
  const mixture = screwWithSpring(shade, 15, 26);
  const idleTip = drawing("path", { class: "es-part es-bright es-fine" });
  const choke = plateOnShaft(36);
  const plate = plateOnShaft(37);
  const lever = drawing(
    "g",
    { "data-part": "throttle" },
    drawing("path", {
      class: "es-part",
      d: `M -13 0 A 13 13 0 0 1 3 -13 L 128 -8 Q ${LEVER_FOOT + 8} -6 ${LEVER_FOOT + 8} 2 Q ${LEVER_FOOT + 8} 9 ${LEVER_FOOT} 9 H 128 L 3 13 A 13 13 0 0 1 -13 0 Z`,
      fill: shade.metal,
    }),
    drawing("path", { class: "es-seam", d: "M 22 0 H 108" }),
    drawing("circle", { class: "es-part es-fine", cx: 124, cy: 0, r: 4.5, fill: shade.black }),
    drawing("circle", { class: "es-part es-bright", r: 8 }),
    drawing("path", { class: "es-slot", d: "M -6 -1.2 H 6 V 1.2 H -6 Z" }),
    touchHere([104, 0]),
  );
  // The lever sweeps over the right side: names keep out of its way.
  const chokeName = nameAt([394, 20], "choke plate", "end", [276, 22], [203, 63]);
  const leverName = nameAt([394, 92], "throttle lever", "end", [350, 98], [300, 180]);
  const [meter, fuel] = fuelLine(shade);
  let [turns, throttle] = [0, 0];
  const moveLever = () => {
    const rests = LEVER_RESTS_DEG - turns * LEVER_PER_TURN_DEG;
    const stands = rests - throttle * LEVER_OPENS_DEG;
    setAttribute(lever, "transform", `translate(${SHAFT.join(" ")}) rotate(${stands.toFixed(1)})`);
    const plateStands = stands - LEVER_RESTS_DEG - 2;
    pointTo(leverName, [350, 98], placeRound(SHAFT, 118, stands + 86));
    setAttribute(plate, "transform", `translate(${SHAFT.join(" ")}) rotate(${plateStands.toFixed(1)})`);
    const below = (rests * Math.PI) / 180;
    const tip = SHAFT[1] + (IDLE_SCREW[0] - SHAFT[0]) * Math.tan(below) + 10 / Math.cos(below);
    setAttribute(idleTip, "d", `M ${IDLE_SCREW[0] - 3.5} ${Math.min(tip, 211).toFixed(1)} h 7 V 213 h -7 Z`);
  };
  const picture = closeUpPicture(
    shade.defs,
    fuel,
    meter,
    ...floatBowl(shade),
    ...bodyInSection(shade),
    drawing("g", { transform: `translate(${CHOKE_SHAFT.join(" ")})` }, choke),
    plate,
    idleTip,
    drawing("path", {
      class: "es-part",
      d: "M 286 211 H 346 Q 352 211 352 217 T 346 223 H 286 Z",
      fill: shade.shaded,
    }),
    lever,
    drawing(
      "g",
      { transform: `translate(${IDLE_SCREW.join(" ")})`, "data-part": "idle_screw" },
      touchHere(),
      idle.root,
    ),
    drawing(
      "g",
      { transform: `translate(${MIXTURE_SCREW.join(" ")}) rotate(90)`, "data-part": "mixture_screw" },
      touchHere(),
      mixture.root,
    ),
    nameAt([330, 294], "idle speed screw", "middle"),
    nameAt([8, 226], "mixture screw", "start"),
    leverName,
    nameAt([8, 268], "throttle plate", "start", [100, 258], [176, 148]),
    nameAt([38, 50], "fuel line", "start"),
    nameAt([92, 78], "float bowl", "middle"),
    chokeName,
  );
  /** @type {(name: string, redraw: (value: number) => void, middle: Place, sense: 1 | -1) => void} */
  const add = (name, redraw, middle, sense) => {
    const handle = place.handle(name);
    if (!handle) return;
    handle.drawnBy(redraw);
    const grip = /** @type {SVGGElement} */ (picture.querySelector(`[data-part=${name}]`));
    turnByDragging(grip, handle, () => middleOfPart(picture, middle), sense);
  };
  add(
    "idle_screw",
    (value) => {
      turns = value;
      idle.turn(value);
      moveLever();
    },
    IDLE_SCREW,
    1,
  );
  // Its value grows as the screw is turned out, which is anticlockwise.
  add("mixture_screw", (value) => mixture.turn(-value), MIXTURE_SCREW, -1);
  add(
    "throttle",
    (value) => {
      throttle = value;
      moveLever();
    },
    SHAFT,
    -1,
  );
  if (!offered(place, "mixture_screw")) mixture.turn(0.12);
  moveLever();
  return {
    name: "carburettor",
    called: "Carburettor",
    title: "Carburettor: screws, throttle and choke",
    picture,
    controls: [
      "idle_screw",
      "mixture_screw",
      "throttle",
      "snap",
      "hold_speed",
      "load_brake",
      "fuel_meter",
      "wait_until_warm",
    ],
    show: ({ settings, warm }) => {
      setAttribute(meter, "visibility", settings.fuel_meter === "on" ? "visible" : "hidden");
      setAttribute(choke, "transform", `rotate(${warm ? 84 : 6})`);
      const words = chokeName.querySelector("text");
      if (words) setText(words, warm ? "choke plate, open" : "choke plate, closed");
    },
  };
}

// A plate seen on its edge, on the shaft that turns it.
/** @param {number} reach */
function plateOnShaft(reach) {
  return drawing(
    "g",
    {},
    drawing("path", { class: "es-plate-edge", d: `M ${-reach} 0 H ${reach}` }),
    drawing("path", { class: "es-plate", d: `M ${-reach} 0 H ${reach}` }),
    drawing("circle", { class: "es-part es-bright es-fine", r: 5 }),
  );
}

// Cut open along the bore: air horn, barrel, flange, and the manifold below it.
/** @param {Shades} shade */
function bodyInSection(shade) {
  return [
    ...cutThrough(shade.defs, "M 128 222 H 272 V 330 H 128 Z"),
    ...cutThrough(shade.defs, "M 112 206 H 288 V 224 H 112 Z"),
    ...cutThrough(
      shade.defs,
      "M 130 14 H 270 Q 272 22 262 32 Q 254 42 254 54 V 206 H 146 V 54 Q 146 42 138 32 Q 128 22 130 14 Z",
    ),
    // The bore, narrow where the air is to draw fuel, and the jet that it draws it from.
    drawing("path", {
      class: "es-hollow",
      d: "M 146 14 H 254 Q 238 30 238 54 V 76 C 238 92 222 94 222 104 C 222 114 238 118 238 132 V 330 H 162 V 132 C 162 118 178 114 178 104 C 178 94 162 92 162 76 V 54 Q 162 30 146 14 Z",
      fill: shade.bore,
    }),
    drawing("path", { class: "es-jet-edge", d: "M 140 132 H 156 L 182 112 H 200" }),
    drawing("path", { class: "es-jet", d: "M 140 132 H 156 L 182 112 H 201" }),
    ...[120, 280].map((x) =>
      drawing("path", { class: "es-part es-bright es-fine", d: `M ${x - 6} 206 V 198 H ${x + 6} V 206 Z` }),
    ),
    // The mixture screw's seat, and its needle through the wall.
    drawing("path", { class: "es-part", d: "M 128 172 H 146 V 196 H 128 Z", fill: shade.shaded }),
    drawing("path", { class: "es-part es-fine es-brass", d: "M 146 181 L 166 184 L 146 187 Z" }),
  ];
}

// Cut open, too: fuel to its level, the float on its hinge, and the needle that it lifts.
/** @param {Shades} shade */
function floatBowl(shade) {
  return [
    drawing("path", {
      class: "es-part",
      d: "M 62 98 H 148 V 152 Q 148 160 140 160 H 70 Q 62 160 62 152 Z",
      fill: shade.round,
    }),
    drawing("path", { class: "es-bore", d: "M 68 98 H 142 V 154 H 70 Q 68 154 68 150 Z" }),
    drawing("path", { class: "es-fuel-in-bowl", d: "M 68 126 H 142 V 154 H 71 Q 68 154 68 150 Z" }),
    drawing("path", { class: "es-rod es-float-arm", d: "M 74 112 L 104 124" }),
    drawing("rect", {
      class: "es-part es-fine",
      x: 92,
      y: 116,
      width: 40,
      height: 22,
      rx: 9,
      fill: shade.brass,
    }),
    drawing("path", { class: "es-seam", d: "M 98 127 H 126" }),
    drawing("path", { class: "es-part es-bright es-fine", d: "M 78 98 V 108 L 81 113 L 84 108 V 98 Z" }),
    drawing("path", { class: "es-part", d: "M 56 88 H 152 V 99 H 56 Z", fill: shade.shaded }),
  ];
}

// The pipe comes down from above and is screwed into the bowl's lid; the meter stands in it where there is one.
/** @param {Shades} shade */
function fuelLine(shade) {
  const fuel = hoseOf("fuel");
  fuel.lay("M 24 -8 V 104 Q 24 124 40 124 H 46");
  const meter = drawing(
    "g",
    { "data-part": "fuel_meter" },
    drawing("rect", { class: "es-part", x: 6, y: 66, width: 36, height: 46, rx: 6, fill: shade.metal }),
    drawing("rect", { class: "es-glass", x: 13, y: 72, width: 22, height: 34, rx: 4 }),
    drawing("path", { class: "es-seam", d: "M 13 80 H 20 M 13 89 H 20 M 13 98 H 20" }),
  );
  const union = drawing("path", {
    class: "es-part es-fine",
    d: "M 40 116 H 54 V 132 H 40 Z M 54 119 H 62 V 129 H 54 Z",
    fill: shade.brass,
  });
  return [meter, drawing("g", {}, fuel.root, union)];
}

/**
 * @param {SVGSVGElement} picture
 * @param {Place} middle
 * @returns {Place}
 */
function middleOfPart(picture, middle) {
  const place = new DOMPoint(...middle).matrixTransform(picture.getScreenCTM() ?? undefined);
  return [place.x, place.y];
}
