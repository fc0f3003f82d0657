// From the driver's seat: road, key, selector, parking brake, foot brake, and the wheel with its chock outside.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { offered, pressOnPicture } from "./handles.js";
import { closeUpPicture, hoseOf, nameAt, shades } from "./shapes.js";

/**
 * @import { Settings } from "../../types.d.ts"
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Shades } from "./shapes.js"
 */

const GATE_TOP = 196;
const GATE_STEP = 20;
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
    drawing("path", { class: "es-rod", d: "M 0 0 L 26 -10" }),
    drawing("circle", { class: "es-cap", cx: 32, cy: -12, r: 12, fill: shade.black }),
  );
  const brakeLever = drawing(
    "g",
    { "data-part": "brake" },
    drawing("path", {
      class: "es-part",
      d: "M 0 -6 L 74 -8 Q 84 -6 84 0 T 74 8 L 0 6 Z",
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-grip-rubber", d: "M 40 0 H 76" }),
  );
  const key = drawing("path", { class: "es-part es-brass", d: "M -3 -16 H 3 V 6 H 8 V 14 H -8 V 6 H -3 Z" });
  const chock = drawing("path", {
    class: "es-part es-chock",
    d: "M 0 0 L 40 0 L 40 -8 Q 24 -12 16 -30 L 8 -30 Z",
    "data-part": "chocks",
  });
  const foot = drawing("path", {
    class: "es-shoe",
    d: "M 178 260 L 192 256 L 196 288 Q 196 304 184 304 L 172 302 Q 168 292 176 284 Z",
    "data-part": "driver",
  });
  const exhaustHose = hoseOf("fuel");
  exhaustHose.root.classList.add("es-extraction");
  setAttribute(exhaustHose.root, "data-part", "ventilation");
  exhaustHose.lay("M 404 300 C 390 300 388 312 372 312 H 348");
  const road = drawing("path", { class: "es-road-line", d: "M 200 58 V 128" });
  const roadGroup = drawing(
    "g",
    { class: "es-road" },
    drawing("path", { class: "es-sky", d: "M 20 8 H 380 V 60 H 20 Z" }),
    drawing("path", { class: "es-verge", d: "M 20 60 H 380 V 128 H 20 Z" }),
    drawing("path", { class: "es-lane", d: "M 190 58 H 210 L 320 128 H 80 Z" }),
    road,
  );
  const helper = drawing(
    "g",
    { "data-part": "helper" },
    drawing("circle", { class: "es-person", cx: 352, cy: 44, r: 12 }),
    drawing("path", { class: "es-person", d: "M 330 92 Q 332 62 352 60 T 374 92 Z" }),
  );
  const roadName = nameAt([200, 28], "workshop", "middle");
  const picture = closeUpPicture(
    shade.defs,
    roadGroup,
    helper,
    drawing("path", { class: "es-frame", d: "M 20 8 H 380 V 128 H 20 Z" }),
    drawing("path", {
      class: "es-part",
      d: "M 4 128 H 396 V 172 Q 396 180 386 180 H 14 Q 4 180 4 172 Z",
      fill: shade.shaded,
    }),
    drawing("circle", { class: "es-wheel-rim", cx: 96, cy: 158, r: 46 }),
    drawing("path", { class: "es-wheel-spoke", d: "M 52 158 H 140 M 96 158 V 202" }),
    drawing("circle", { class: "es-part", cx: 96, cy: 158, r: 12, fill: shade.metal }),
    drawing("circle", { class: "es-part", cx: 222, cy: 154, r: 15, fill: shade.metal }),
    drawing("g", { transform: "translate(222 154)", "data-part": "key" }, key),
    // The selector's gate, the brake pedal and the parking brake.
    drawing("path", {
      class: "es-part",
      d: `M 258 ${GATE_TOP - 10} H 292 V ${GATE_TOP + GATE_STEP * gears.length - 8} H 258 Z`,
      fill: shade.shaded,
    }),
    ...gears.map((gear, index) =>
      drawing(
        "text",
        { class: "es-gate", x: 268, y: GATE_TOP + GATE_STEP * index + 4, "text-anchor": "middle" },
        GATE_LETTERS[gear] ?? gear,
      ),
    ),
    knob,
    drawing("path", { class: "es-rod", d: "M 188 182 V 250" }),
    drawing("rect", { class: "es-part", x: 168, y: 250, width: 40, height: 22, rx: 4, fill: shade.metal }),
    foot,
    drawing(
      "g",
      { transform: "translate(28 292)" },
      brakeLever,
      drawing("circle", { class: "es-part", r: 11, fill: shade.metal }),
    ),
    wheel(shade),
    chock,
    exhaustHose.root,
    roadName,
    nameAt([222, 196], "key", "middle"),
    nameAt([302, 204], "selector", "start"),
    nameAt([160, 238], "foot brake", "end", [162, 240], [174, 252]),
    nameAt([44, 314], "parking brake", "start"),
    nameAt([250, 296], "chock", "start"),
    nameAt([344, 315], "extraction", "end"),
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
      setAttribute(knob, "transform", `translate(278 ${GATE_TOP + GATE_STEP * at})`);
      setAttribute(brakeLever, "transform", `rotate(${settings.brake === "on" ? -34 : -4})`);
      setAttribute(key, "transform", `rotate(${cranking ? 80 : running ? 45 : 0})`);
      const away = settings.chocks !== "in place";
      setAttribute(chock, "transform", away ? "translate(206 312)" : "translate(330 304) scale(-1 1)");
      setAttribute(foot, "visibility", settings.driver === "not seated" ? "hidden" : "visible");
      setAttribute(exhaustHose.root, "visibility", settings.ventilation === "on" ? "visible" : "hidden");
      setAttribute(helper, "visibility", settings.helper === "at the brake" ? "visible" : "hidden");
      roadGroup.classList.toggle("es-on-road", Boolean(on_road));
      setText(/** @type {Element} */ (roadName.querySelector("text")), on_road ? "on the road" : "workshop");
    },
  };
}

/** @param {Shades} shade */
function wheel(shade) {
  return drawing(
    "g",
    {},
    drawing("circle", { class: "es-tyre", cx: 362, cy: 270, r: 36 }),
    drawing("circle", { class: "es-part", cx: 362, cy: 270, r: 21, fill: shade.metal }),
    drawing("circle", { class: "es-part", cx: 362, cy: 270, r: 7, fill: shade.shaded }),
  );
}
