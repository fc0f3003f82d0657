// From the driver's seat: road, key, selector, parking brake, foot brake, and the wheel with its chock outside.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { offered, pressOnPicture } from "./handles.js";
import { closeUpPicture, hoseOf, nameAt, placeRound, shades, touchHere } from "./shapes.js";
import { keyInLock } from "./small_parts.js";
import { scaleRound } from "./testers.js";

/**
 * @import { Settings } from "../../types.d.ts"
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

const GATE_TOP = 194;
const GATE_STEP = 20;
const GATE = 246; // where the selector's slot is
// The wheel in the picture of what is outside, and the ground that it stands on.
/** @type {Place} */
const WHEEL = [338, 230];
const TYRE = 33;
const GROUND = WHEEL[1] + TYRE;
/** @type {Record<string, string>} */
const GATE_LETTERS = { park: "P", reverse: "R", neutral: "N", drive: "D", "in gear": "1" };

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function seatAndRoad(place) {
  const shade = shades();
  const gears = offered(place, "gear")?.choices ?? ["neutral"];
  const knob = drawing(
    "g",
    { "data-part": "gear" },
    drawing("circle", { class: "es-part es-bright", r: 13 }),
    drawing("circle", { class: "es-cap", r: 10, fill: shade.black }),
    drawing("path", { class: "es-cap-seam", d: "M -6 -3 A 7 7 0 0 1 3 -6.5" }),
  );
  const brakeLever = drawing(
    "g",
    { "data-part": "brake" },
    drawing("path", {
      class: "es-part",
      d: "M 0 -6 L 74 -8 Q 84 -6 84 0 T 74 8 L 0 6 Z",
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-grip-rubber", d: "M 42 0 H 78" }),
    drawing("circle", { class: "es-part es-bright", cx: 86, r: 4 }),
    touchHere([62, 0]),
  );
  const lock = keyInLock(shade);
  const wedges = [drawing("g", {}, ...chock()), drawing("g", {}, ...chock())];
  const chocks = drawing("g", { "data-part": "chocks" }, touchHere([WHEEL[0] - 22, GROUND + 8]), ...wedges);
  const foot = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-part",
      d: "M 137 298 Q 142 278 136 262 Q 134 246 146 244 Q 160 242 163 256 Q 166 276 160 300 Z",
      fill: shade.brass,
    }),
    drawing("path", {
      class: "es-seam-dark",
      d: "M 138 264 Q 150 256 163 264 M 143 273 H 158 M 143 279 H 157 M 143 285 H 157",
    }),
    drawing("path", {
      class: "es-person",
      d: "M 106 316 Q 128 304 134 290 Q 148 284 164 292 Q 160 308 150 316 Z",
    }),
  );
  const exhaustHose = hoseOf("fuel");
  exhaustHose.root.classList.add("es-extraction");
  const exhaustWay = "M 380 248 C 394 248 390 268 386 278 S 378 288 378 298";
  exhaustHose.lay(exhaustWay);
  exhaustHose.root.append(drawing("path", { class: "es-ribs", d: exhaustWay }));
  const needle = drawing("path", { class: "es-needle", d: "M 0 4 V -12" });
  const outside = drawing(
    "g",
    { class: "es-road" },
    drawing("path", { class: "es-sky", d: "M 25 8 H 375 L 382 54 H 18 Z" }),
    drawing("path", { class: "es-hills", d: "M 19 54 Q 70 30 128 46 T 236 42 T 330 40 T 382 54 Z" }),
    drawing("path", { class: "es-verge", d: "M 18 52 H 382 L 388 114 H 12 Z" }),
    drawing("path", { class: "es-lane", d: "M 190 50 H 210 L 316 114 H 84 Z" }),
    drawing("path", { class: "es-road-line", d: "M 200 50 V 114" }),
  );
  const indoors = workshop();
  const helper = personOutside();
  const helperPlace = drawing(
    "g",
    { "data-part": "helper" },
    drawing("path", { class: "es-empty-place", d: PERSON }),
    touchHere([340, 74]),
    helper,
  );
  const roadName = nameAt([200, 28], "workshop", "middle");
  const gateEnds = GATE_TOP + GATE_STEP * (gears.length - 1);
  const picture = closeUpPicture(
    shade.defs,
    indoors,
    outside,
    ...(offered(place, "helper") ? [stays(helperPlace, nameAt([340, 28], "helper", "middle"))] : []),
    drawing("path", { class: "es-frame", d: "M 12 116 L 24 16 Q 26 8 36 8 H 364 Q 374 8 376 16 L 388 116" }),
    // The footwell with its floor.
    drawing("path", { class: "es-floor", d: "M 8 160 H 282 V 306 Q 282 316 272 316 H 18 Q 8 316 8 306 Z" }),
    drawing("path", { class: "es-mat", d: "M 8 296 H 222 V 316 H 18 Q 8 316 8 306 Z" }),
    drawing("path", {
      class: "es-part",
      d: "M 4 120 Q 4 110 14 110 H 386 Q 396 110 396 120 V 154 Q 396 168 382 168 H 18 Q 4 168 4 154 Z",
      fill: shade.level,
    }),
    drawing("path", { class: "es-seam", d: "M 12 117 H 388 M 270 126 H 382 V 156 H 270 Z M 318 136 H 334" }),
    drawing("circle", { class: "es-part", cx: 174, cy: 139, r: 20, fill: shade.metal }),
    drawing("circle", { class: "es-face", cx: 174, cy: 139, r: 16.5 }),
    scaleRound([174, 140], 13.5, 120, 9),
    drawing("g", { transform: "translate(174 140)" }, needle),
    // The brake's broad pedal and the accelerator's narrow one, the selector in its gate and the parking brake.
    drawing("path", { class: "es-rod es-pedal-arm", d: "M 156 168 L 152 246" }),
    drawing("path", {
      class: "es-part",
      d: "M 192 238 Q 200 232 208 238 L 212 296 H 190 Z",
      fill: shade.black,
    }),
    drawing("path", {
      class: "es-cap-seam",
      d: "M 196 248 H 206 M 195 260 H 207 M 195 272 H 208 M 194 284 H 208",
    }),
    drawing(
      "g",
      { "data-part": "driver" },
      touchHere([151, 255]),
      drawing("rect", { class: "es-part", x: 126, y: 242, width: 50, height: 26, rx: 5, fill: shade.black }),
      drawing("path", { class: "es-cap-seam", d: "M 132 249 H 170 M 132 255 H 170 M 132 261 H 170" }),
      foot,
    ),
    drawing("rect", {
      class: "es-cap",
      x: GATE - 16,
      y: GATE_TOP - 18,
      width: 50,
      height: gateEnds - GATE_TOP + 36,
      rx: 9,
      fill: shade.black,
    }),
    drawing("path", { class: "es-slot-of-gate", d: `M ${GATE} ${GATE_TOP} V ${gateEnds}` }),
    ...gears.map((gear, index) =>
      drawing(
        "text",
        { class: "es-gate", x: GATE + 22, y: GATE_TOP + GATE_STEP * index, "text-anchor": "middle" },
        GATE_LETTERS[gear] ?? gear,
      ),
    ),
    knob,
    drawing(
      "g",
      { transform: "translate(30 280)" },
      drawing("path", {
        class: "es-part",
        d: "M -14 18 L -12 -6 Q -8 -14 0 -14 L 16 -8 L 34 18 Z",
        fill: shade.metal,
      }),
      drawing("path", { class: "es-teeth", d: "M 2 -11 L 32 14" }),
      brakeLever,
      drawing("circle", { class: "es-part es-bright", r: 7 }),
      drawing("circle", { class: "es-slot", r: 2.4 }),
    ),
    drawing("g", { transform: "translate(226 136)", "data-part": "key" }, lock.root),
    drawing("circle", { class: "es-wheel-rim", cx: 96, cy: 150, r: 46 }),
    drawing("circle", { class: "es-wheel-light", cx: 96, cy: 150, r: 48 }),
    drawing("path", { class: "es-wheel-spoke", d: "M 52 148 Q 96 160 140 148 M 96 152 V 194" }),
    drawing("circle", { class: "es-part", cx: 96, cy: 150, r: 13, fill: shade.metal }),
    // Outside, at the rear wheel.
    drawing("rect", { class: "es-inset", x: 288, y: 172, width: 108, height: 144, rx: 10 }),
    drawing("path", {
      class: "es-floor",
      d: `M 289 ${GROUND - 8} H 395 V 308 Q 395 315 386 315 H 298 Q 289 315 289 308 Z`,
    }),
    drawing("path", { class: "es-part", d: "M 366 244 H 386 V 252 H 366 Z", fill: shade.level }),
    drawing("path", {
      class: "es-part",
      d: `M 289 196 H 388 Q 394 214 390 240 H ${WHEEL[0] + 40} A 40 40 0 0 0 ${WHEEL[0] - 40} 240 H 289 Z`,
      fill: shade.level,
    }),
    wheel(shade),
    stays(
      drawing("path", {
        class: "es-part",
        d: "M 366 298 A 12 5 0 0 0 390 298 A 12 5 0 0 0 366 298 Z",
        fill: shade.shaded,
      }),
      drawing("path", { class: "es-slot", d: "M 370 298 A 8 3 0 0 0 386 298 A 8 3 0 0 0 370 298 Z" }),
      chocks,
      drawing("g", { "data-part": "ventilation" }, touchHere([371, 292]), exhaustHose.root),
    ),
    roadName,
    nameAt([218, 190], "key", "end", [212, 177], [222, 164]),
    nameAt([252, gateEnds + 34], "selector", "middle"),
    nameAt([118, 218], "foot brake", "end", [112, 222], [132, 242]),
    nameAt([14, 312], "parking brake", "start"),
    nameAt([390, 189], "wheel", "end", [376, 193], [350, 212]),
    stays(
      nameAt([294, 189], "chock", "start", [302, 193], [311, 254]),
      nameAt([294, 311], "extraction", "start", [364, 301], [380, 286]),
    ),
  );
  /** @type {Settings} */
  let stands = {};
  pressOnPicture(picture, place, () => stands, "brake", "chocks", "ventilation", "driver", "helper");
  return {
    name: "seat",
    called: "Seat",
    title: "Seat and road",
    picture,
    controls: ["brake", "chocks", "gear", "driver", "ventilation", "helper", "route", "road_check"],
    show: ({ settings, running, cranking, on_road }) => {
      stands = settings;
      const driven = gears.includes("drive") ? "drive" : "in gear"; // on the road the driver has it there
      const at = Math.max(gears.indexOf(on_road ? driven : String(settings.gear)), 0);
      setAttribute(knob, "transform", `translate(${GATE} ${GATE_TOP + GATE_STEP * at})`);
      setAttribute(brakeLever, "transform", `rotate(${settings.brake === "on" ? -36 : -6})`);
      lock.turn(cranking ? 80 : running ? 45 : 0);
      setAttribute(needle, "transform", `rotate(${on_road ? 10 : -120})`);
      const away = settings.chocks !== "in place";
      for (const [index, side] of [-1, 1].entries())
        setAttribute(wedges[index], "transform", wedgeAt(side, away));
      setAttribute(foot, "visibility", settings.driver === "not seated" ? "hidden" : "visible");
      setAttribute(exhaustHose.root, "visibility", settings.ventilation === "on" ? "visible" : "hidden");
      setAttribute(helper, "visibility", settings.helper === "at the brake" ? "visible" : "hidden");
      outside.classList.toggle("es-on-road", Boolean(on_road));
      picture.classList.toggle("es-driven", Boolean(on_road));
      setAttribute(outside, "visibility", on_road ? "visible" : "hidden");
      setAttribute(indoors, "visibility", on_road ? "hidden" : "visible");
      setText(/** @type {Element} */ (roadName.querySelector("text")), on_road ? "on the road" : "workshop");
    },
  };
}

// What stays in the workshop when the vehicle is on the road.
/** @param {...SVGElement} parts */
function stays(...parts) {
  return drawing("g", { class: "es-stays" }, ...parts);
}

// Through the windscreen while the vehicle stands: a wall with a door of slats, a lamp and a board of tools.
function workshop() {
  const slats = [38, 50, 62, 74, 86].map((y) => drawing("path", { class: "es-slat", d: `M 128 ${y} H 272` }));
  const tools = [
    "M 42 50 V 76", // a screwdriver with its handle
    "M 56 54 V 80 M 51 50 H 62", // a hammer
    "M 70 54 V 78 M 67 46 L 67 51 Q 70 55 73 51 L 73 46", // an open spanner
    "M 84 48 L 81 62 L 84 80 M 84 48 L 87 62 L 84 80", // pliers
  ].map((d) => drawing("path", { class: "es-tool-on-wall", d }));
  return drawing(
    "g",
    { class: "es-workshop" },
    drawing("path", { class: "es-wall", d: "M 25 8 H 375 L 388 114 H 12 Z" }),
    drawing("path", { class: "es-floor", d: "M 14 98 H 386 L 388 114 H 12 Z" }),
    drawing("path", { class: "es-door", d: "M 124 32 H 276 V 98 H 124 Z" }),
    ...slats,
    drawing("path", { class: "es-board", d: "M 32 40 H 94 V 88 H 32 Z" }),
    ...tools,
    drawing("path", { class: "es-lamp", d: "M 296 8 V 18 M 286 26 Q 286 18 296 18 T 306 26 Z" }),
  );
}

// Under the tyre, or on the floor before it.
/**
 * @param {number} side
 * @param {boolean} away
 */
function wedgeAt(side, away) {
  const [x, y] = away ? (side < 0 ? [-8, 23] : [-14, 27]) : [0, 0];
  return `translate(${WHEEL[0] + x} ${y}) scale(${side} 1)`;
}

// Somebody in overalls and a cap, seen through the windscreen.
const PERSON =
  "M 312 112 V 92 Q 312 72 330 68 L 334 62 Q 327 55 327 46 Q 327 32 340 32 T 353 46 Q 353 55 346 62 L 350 68 Q 368 72 368 92 V 112 Z";
function personOutside() {
  return drawing(
    "g",
    {},
    drawing("path", { class: "es-person", d: PERSON }),
    drawing("path", { class: "es-skin", d: "M 329 44 H 351 V 48 Q 350 60 340 60 T 329 48 Z" }),
    drawing("path", {
      class: "es-person es-peak",
      d: "M 327 44 Q 326 31 340 31 T 353 43 L 360 46 Q 350 47 327 45 Z",
    }),
    drawing("path", { class: "es-slot", d: "M 334 49 h 3 v 2.5 h -3 Z M 343 49 h 3 v 2.5 h -3 Z" }),
    drawing("path", { class: "es-seam-dark", d: "M 336 55 Q 340 58 344 55" }),
    drawing("path", {
      class: "es-bib",
      d: "M 328 112 V 86 H 352 V 112 Z M 330 86 L 327 69 M 350 86 L 353 69",
    }),
  );
}

// One of two wedges of rubber: hollow as the tyre is round, its thin edge under it.
function chock() {
  const top = 28; // how far out its top is, on the tyre
  const up = Math.sqrt(TYRE ** 2 - top ** 2);
  const [highX, highY] = [top, WHEEL[1] + up];
  return [
    drawing("path", {
      class: "es-part es-chock",
      d: `M 5 ${GROUND} A ${TYRE} ${TYRE} 0 0 0 ${highX} ${highY.toFixed(1)} H ${highX + 7} L ${highX + 13} ${GROUND} Z`,
    }),
    drawing("path", {
      class: "es-cap-seam",
      d: `M 24 ${GROUND - 4} H ${highX + 10} M 28 ${GROUND - 9} H ${highX + 8}`,
    }),
  ];
}

/** @param {Shades} shade */
function wheel(shade) {
  const [cx, cy] = WHEEL;
  return drawing(
    "g",
    {},
    drawing("circle", { class: "es-tyre", cx, cy, r: TYRE }),
    drawing("circle", { class: "es-cap-seam", cx, cy, r: TYRE - 5 }),
    drawing("circle", { class: "es-part", cx, cy, r: 20, fill: shade.metal }),
    ...[0, 72, 144, 216, 288].map((deg) => {
      const [x, y] = placeRound(WHEEL, 13, deg);
      return drawing("circle", { class: "es-hole", cx: x, cy: y, r: 2.6 });
    }),
    drawing("circle", { class: "es-part", cx, cy, r: 7, fill: shade.shaded }),
  );
}
