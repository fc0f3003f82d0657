// From the driver's seat: road, key, selector, parking brake, foot brake, and the wheel with its chock outside.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { offered, pressOnPicture } from "./handles.js";
import { closeUpPicture, hoseOf, nameAt, placeRound, shades } from "./shapes.js";

/**
 * @import { Settings } from "../../types.d.ts"
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Shades } from "./shapes.js"
 */

const GATE_TOP = 194;
const GATE_STEP = 20;
const GATE = 246; // where the selector's slot is
const GROUND = 270; // on which the wheel stands, in the picture of what is outside
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
  );
  const key = drawing("path", { class: "es-part es-brass", d: "M -3 -16 H 3 V 6 H 8 V 14 H -8 V 6 H -3 Z" });
  const chock = drawing("path", {
    class: "es-part es-chock",
    d: "M 0 0 L 32 0 Q 20 -6 12 -26 L 6 -26 Z",
    "data-part": "chocks",
  });
  const foot = drawing("path", {
    class: "es-shoe",
    d: "M 154 254 L 170 250 L 176 286 Q 176 304 162 304 L 148 302 Q 144 290 152 280 Z",
    "data-part": "driver",
  });
  const exhaustHose = hoseOf("fuel");
  exhaustHose.root.classList.add("es-extraction");
  setAttribute(exhaustHose.root, "data-part", "ventilation");
  exhaustHose.lay("M 374 284 C 358 284 352 292 336 292 S 310 286 290 288");
  const outside = drawing(
    "g",
    { class: "es-road" },
    drawing("path", { class: "es-sky", d: "M 20 8 H 380 V 52 H 20 Z" }),
    drawing("path", { class: "es-verge", d: "M 20 52 H 380 V 114 H 20 Z" }),
    drawing("path", { class: "es-lane", d: "M 190 50 H 210 L 316 114 H 84 Z" }),
    drawing("path", { class: "es-road-line", d: "M 200 50 V 114" }),
  );
  const indoors = workshop();
  const helper = drawing(
    "g",
    { "data-part": "helper" },
    drawing("circle", { class: "es-person", cx: 340, cy: 42, r: 12 }),
    drawing("path", { class: "es-person", d: "M 316 92 Q 318 60 340 58 T 364 92 Z" }),
  );
  const roadName = nameAt([200, 28], "workshop", "middle");
  const gateEnds = GATE_TOP + GATE_STEP * (gears.length - 1);
  const picture = closeUpPicture(
    shade.defs,
    indoors,
    outside,
    helper,
    drawing("path", { class: "es-frame", d: "M 20 8 H 380 V 114 H 20 Z" }),
    drawing("path", {
      class: "es-part",
      d: "M 4 118 Q 4 110 14 110 H 386 Q 396 110 396 118 V 158 Q 396 168 386 168 H 14 Q 4 168 4 158 Z",
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-cap-seam", d: "M 12 118 H 388" }),
    // The pedal, the selector in its gate and the parking brake.
    drawing("path", { class: "es-rod es-pedal-arm", d: "M 166 168 L 164 244" }),
    drawing("rect", { class: "es-part", x: 142, y: 242, width: 44, height: 24, rx: 5, fill: shade.metal }),
    ...[148, 156, 164, 172].map((x) => drawing("path", { class: "es-seam", d: `M ${x} 247 L ${x + 6} 261` })),
    foot,
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
      { transform: "translate(26 284)" },
      brakeLever,
      drawing("circle", { class: "es-part", r: 11, fill: shade.metal }),
    ),
    drawing("circle", { class: "es-part", cx: 222, cy: 138, r: 16, fill: shade.metal }),
    drawing("circle", { class: "es-seam", cx: 222, cy: 138, r: 12 }),
    drawing("g", { transform: "translate(222 138)", "data-part": "key" }, key),
    drawing("circle", { class: "es-wheel-rim", cx: 96, cy: 150, r: 46 }),
    drawing("circle", { class: "es-wheel-light", cx: 96, cy: 150, r: 48 }),
    drawing("path", { class: "es-wheel-spoke", d: "M 52 148 Q 96 160 140 148 M 96 152 V 194" }),
    drawing("circle", { class: "es-part", cx: 96, cy: 150, r: 13, fill: shade.metal }),
    // Outside, at the rear wheel.
    drawing("rect", { class: "es-inset", x: 288, y: 172, width: 108, height: 144, rx: 10 }),
    drawing("path", {
      class: "es-floor",
      d: `M 289 ${GROUND} H 395 V 308 Q 395 315 386 315 H 298 Q 289 315 289 308 Z`,
    }),
    wheel(shade),
    drawing("path", { class: "es-part", d: "M 396 279 H 370 V 289 H 396 Z", fill: shade.shaded }),
    exhaustHose.root,
    chock,
    roadName,
    nameAt([212, 186], "key", "end", [206, 174], [214, 156]),
    nameAt([254, gateEnds + 37], "selector", "middle"),
    nameAt([128, 224], "foot brake", "end", [120, 230], [144, 246]),
    nameAt([8, 314], "parking brake", "start"),
    nameAt([296, 189], "chock", "start"),
    nameAt([390, 189], "wheel", "end"),
    nameAt([342, 311], "extraction", "middle"),
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
      setAttribute(key, "transform", `rotate(${cranking ? 80 : running ? 45 : 0})`);
      const away = settings.chocks !== "in place";
      setAttribute(
        chock,
        "transform",
        away ? "translate(292 222) rotate(-14)" : `translate(326 ${GROUND}) scale(-1 1)`,
      );
      setAttribute(foot, "visibility", settings.driver === "not seated" ? "hidden" : "visible");
      setAttribute(exhaustHose.root, "visibility", settings.ventilation === "on" ? "visible" : "hidden");
      setAttribute(helper, "visibility", settings.helper === "at the brake" ? "visible" : "hidden");
      outside.classList.toggle("es-on-road", Boolean(on_road));
      setAttribute(outside, "visibility", on_road ? "visible" : "hidden");
      setAttribute(indoors, "visibility", on_road ? "hidden" : "visible");
      setText(/** @type {Element} */ (roadName.querySelector("text")), on_road ? "on the road" : "workshop");
    },
  };
}

// Through the windscreen while the vehicle stands: a wall with a door of slats, a lamp and a board of tools.
function workshop() {
  const slats = [38, 50, 62, 74, 86].map((y) => drawing("path", { class: "es-slat", d: `M 128 ${y} H 272` }));
  const tools = [40, 54, 68, 82].map((x, index) =>
    drawing("path", { class: "es-tool-on-wall", d: `M ${x} 46 V ${64 + (index % 3) * 7}` }),
  );
  return drawing(
    "g",
    { class: "es-workshop" },
    drawing("path", { class: "es-wall", d: "M 20 8 H 380 V 114 H 20 Z" }),
    drawing("path", { class: "es-floor", d: "M 20 98 H 380 V 114 H 20 Z" }),
    drawing("path", { class: "es-door", d: "M 124 32 H 276 V 98 H 124 Z" }),
    ...slats,
    drawing("path", { class: "es-board", d: "M 32 40 H 94 V 88 H 32 Z" }),
    ...tools,
    drawing("path", { class: "es-lamp", d: "M 296 8 V 18 M 286 26 Q 286 18 296 18 T 306 26 Z" }),
  );
}

/** @param {Shades} shade */
function wheel(shade) {
  const [cx, cy] = [352, GROUND - 37];
  return drawing(
    "g",
    {},
    drawing("circle", { class: "es-tyre", cx, cy, r: 37 }),
    drawing("circle", { class: "es-cap-seam", cx, cy, r: 31 }),
    drawing("circle", { class: "es-part", cx, cy, r: 22, fill: shade.metal }),
    ...[0, 72, 144, 216, 288].map((deg) => {
      const [x, y] = placeRound([cx, cy], 14, deg);
      return drawing("circle", { class: "es-hole", cx: x, cy: y, r: 2.6 });
    }),
    drawing("circle", { class: "es-part", cx, cy, r: 8, fill: shade.shaded }),
  );
}
