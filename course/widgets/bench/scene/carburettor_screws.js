// The carburettor from the side of its screws: idle speed screw and mixture screw as heads that turn, the throttle with
// its lever, and the choke plate, which opens by itself as the engine warms up.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { turnByDragging } from "./geared_drag.js";
import { offered } from "./handles.js";
import { closeUpPicture, hoseOf, nameAt, screwHead, shades, touchHere } from "./shapes.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place } from "./shapes.js"
 */

/** @type {Place} */
const IDLE_SCREW = [330, 258];
/** @type {Place} */
const MIXTURE_SCREW = [150, 236];
/** @type {Place} */
const SHAFT = [232, 176];
const LEVER_OPENS_DEG = 62;
const LEVER_PER_TURN_DEG = 2.2; // of the idle screw, on which the closed lever rests; wide enough to be seen

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function carburettorScrews(place) {
  const shade = shades();
  const idleHead = screwHead(27, shade.metal);
  const mixtureHead = screwHead(22, shade.metal);
  const choke = drawing("path", { class: "es-plate", d: "M 150 62 H 250" });
  const plate = drawing("path", { class: "es-plate", d: "M -34 0 H 34" });
  const lever = drawing(
    "g",
    { "data-part": "throttle" },
    drawing("path", {
      class: "es-part",
      d: "M -12 -8 L 92 -12 Q 104 -10 104 0 T 92 12 L -12 10 Z",
      fill: shade.metal,
    }),
    drawing("circle", { class: "es-part es-bright", r: 12 }),
    drawing("circle", { class: "es-slot", cx: 90, cy: 0, r: 4 }),
  );
  const fuel = hoseOf("fuel");
  fuel.lay("M -8 126 C 40 126 60 118 104 118");
  const chokeName = nameAt([262, 58], "choke plate", "start");
  const meter = drawing(
    "g",
    { "data-part": "fuel_meter" },
    drawing("rect", { class: "es-part", x: 18, y: 112, width: 52, height: 26, rx: 6, fill: shade.metal }),
    drawing("rect", { class: "es-glass", x: 26, y: 117, width: 36, height: 16, rx: 4 }),
  );
  let [turns, throttle] = [0, 0];
  const moveLever = () => {
    const opens = throttle * LEVER_OPENS_DEG + turns * LEVER_PER_TURN_DEG;
    setAttribute(lever, "transform", `translate(${SHAFT.join(" ")}) rotate(${(18 - opens).toFixed(1)})`);
    setAttribute(plate, "transform", `translate(200 150) rotate(${(-4 - opens).toFixed(1)})`);
  };
  const mixture = offered(place, "mixture_screw");
  const picture = closeUpPicture(
    shade.defs,
    fuel.root,
    meter,
    drawing("path", {
      class: "es-part",
      d: "M 104 92 H 146 V 150 H 104 Q 96 150 96 140 V 102 Q 96 92 104 92 Z",
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-part", d: "M 138 26 H 262 L 254 46 H 146 Z", fill: shade.metal }),
    drawing("path", { class: "es-part", d: "M 146 46 H 254 V 204 H 146 Z", fill: shade.metal }),
    drawing("path", {
      class: "es-part",
      d: "M 112 204 H 288 V 218 H 112 Z M 130 218 H 270 V 320 H 130 Z",
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-bore", d: "M 162 30 H 238 V 200 H 162 Z" }),
    choke,
    plate,
    drawing("path", { class: "es-part", d: "M 284 206 H 346 V 222 H 284 Z", fill: shade.shaded }),
    drawing("path", { class: "es-thread", d: "M 330 236 V 200" }),
    lever,
    drawing(
      "g",
      { transform: `translate(${IDLE_SCREW.join(" ")})`, "data-part": "idle_screw" },
      touchHere(),
      idleHead.root,
    ),
    drawing(
      "g",
      { transform: `translate(${MIXTURE_SCREW.join(" ")})`, "data-part": "mixture_screw" },
      touchHere(),
      mixtureHead.root,
    ),
    nameAt([330, 306], "idle speed screw", "middle"),
    nameAt([120, 260], "mixture screw", "end"),
    nameAt([392, 150], "throttle lever", "end"),
    nameAt([8, 176], "throttle plate", "start", [92, 170], [172, 152]),
    nameAt([8, 106], "fuel line", "start"),
    nameAt([90, 84], "float bowl", "middle"),
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
      idleHead.turn(value);
      moveLever();
    },
    IDLE_SCREW,
    1,
  );
  // Its value grows as the screw is turned out, which is anticlockwise.
  add("mixture_screw", (value) => mixtureHead.turn(-value), MIXTURE_SCREW, -1);
  add(
    "throttle",
    (value) => {
      throttle = value;
      moveLever();
    },
    SHAFT,
    -1,
  );
  if (!mixture) mixtureHead.turn(0.12);
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
      setAttribute(choke, "transform", `rotate(${warm ? 78 : 8} 200 62)`);
      const words = chokeName.querySelector("text");
      if (words) setText(words, warm ? "choke plate, open" : "choke plate, closed");
    },
  };
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
