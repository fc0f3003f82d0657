// The distributor seen from above its cap, the one view in which clockwise means something. The body turns with its
// setting; cap, lug and vacuum unit go with it, clamp bolt and block stay.

import { drawing, setAttribute, setText } from "../../shared/elements.js";
import { turnByDragging } from "./geared_drag.js";
import { pressOnPicture } from "./handles.js";
import {
  arcRound,
  boltHead,
  closeUpPicture,
  hoseOf,
  nameAt,
  pieceOfRing,
  placeRound,
  pointTo,
  screwHead,
  shadeFrom,
  shades,
  touchHere,
  written,
} from "./shapes.js";

/**
 * @import { CloseUp, Facts, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const AXIS = [196, 154];
const BODY = 92;
const CAP = 66;
const TOWERS = 45;
const SLOT = 117;
const SLOT_REACHES = 27; // degrees to either side of the bolt: the body's range and the bolt's own width
const CLIPS_AT = [142, 322];
const MARK_AT = 249;
const ROD_PULLS = 6;
/** @type {Record<string, string | undefined>} */
const BOLT = { snug: "rotate(12) scale(1.06)", loose: "rotate(24) scale(1.12)" }; // its head comes nearer as it is turned out
const CREEPS_MS = 900;
const SWINGS = 5; // times as far as it creeps the bolt drags the body before it springs back: wide enough to be seen
// Common firing orders of engines in line and of eights; common practice, no source.
/** @type {Record<number, number[]>} */
const FIRING_ORDERS = {
  4: [1, 3, 4, 2],
  6: [1, 5, 3, 6, 2, 4],
  8: [1, 8, 4, 3, 6, 5, 7, 2],
};
/** @type {Record<string, string>} */
export const NOT_BY_THESE = {
  cap: "The cap is held by two clips and breaks easily. Take hold of the body below it.",
  lead: "A lead pulls out of the cap and carries the full voltage of the coil. Take hold of the body.",
  vacuum_unit: "A pull at the vacuum unit bends it and its rod. Take hold of the body.",
};

// Towers in firing order round the cap, the way the rotor turns; degrees clockwise of straight up on the body.
/**
 * @param {Facts} facts
 * @returns {{ cylinder: number, deg: number }[]}
 */
export function towersOf({ cylinders, rotor_turns }) {
  const order = FIRING_ORDERS[cylinders];
  if (!order) throw new Error(`A cap has 4, 6 or 8 towers for leads; ${cylinders} were asked for.`);
  const way = rotor_turns === "anticlockwise" ? -1 : 1;
  const first = 180 / cylinders;
  return order.map((cylinder, index) => ({ cylinder, deg: first + (way * 360 * index) / cylinders }));
}

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function distributorFromAbove(place) {
  const shade = shades();
  const towers = towersOf(place.facts);
  const leads = towers.map(() => hoseOf("tension"));
  const coilLead = hoseOf("tension");
  const unit = vacuumUnit(shade);
  const turning = drawing(
    "g",
    {},
    drawing("g", { "data-part": "vacuum_unit" }, unit.root),
    drawing(
      "g",
      { "data-part": "distributor", class: "es-body" },
      drawing("path", {
        class: "es-part es-lug",
        d: lugOutline(),
        fill: shade.metal,
        "fill-rule": "evenodd",
      }),
      drawing("circle", { class: "es-part", cx: AXIS[0], cy: AXIS[1], r: BODY, fill: shade.metal }),
      drawing("circle", { class: "es-seam", cx: AXIS[0], cy: AXIS[1], r: BODY - 5 }),
      drawing("circle", { class: "es-hole", cx: AXIS[0], cy: AXIS[1], r: CAP + 5 }),
      ...[144, 216].map((deg) => touchHere(placeRound(AXIS, SLOT, deg))),
    ),
  );
  const cap = drawing(
    "g",
    { "data-part": "cap" },
    drawing("circle", { class: "es-cap", cx: AXIS[0], cy: AXIS[1], r: CAP, fill: shade.black }),
    drawing("circle", { class: "es-cap-seam", cx: AXIS[0], cy: AXIS[1], r: CAP - 6 }),
    drawing("path", { class: "es-glint", d: arcRound(AXIS, CAP - 11, 268, 308) }),
    ...towers.map(({ deg }) => tower(placeRound(AXIS, TOWERS, deg))),
    tower(AXIS),
    ...CLIPS_AT.map((deg) => capClip(deg)),
  );
  const numbers = towers.map(({ cylinder }) =>
    drawing(
      "text",
      { class: "es-number", "text-anchor": "middle" },
      place.facts.rotor_turns ? String(cylinder) : "",
    ),
  );
  const marks = bodyMark();
  const bolt = boltHead(10, shade.shaded);
  const clampWords = nameAt([392, 312], "clamp bolt", "end", [322, 300], [AXIS[0] + 13, AXIS[1] + SLOT + 4]);
  const unitName = nameAt([392, 64], "vacuum unit", "end", [322, 70], AXIS);
  const rodName = nameAt([392, 250], "its rod", "end", [370, 238], AXIS);
  const screwName = nameAt([392, 94], "its screw", "end", [364, 99], AXIS);
  const arrow = drawing("g", { visibility: "hidden" });
  const picture = closeUpPicture(
    shade.defs,
    drawing("path", {
      class: "es-part",
      d: BLOCK,
      fill: shadeFrom(shade.defs, [80, 60], [330, 320], ["middle", "dark", "iron", "soot"]),
    }),
    drawing("path", { class: "es-cap-seam", d: BLOCK_EDGE }),
    drawing("circle", { class: "es-part", cx: AXIS[0], cy: AXIS[1], r: BODY + 12, fill: shade.shaded }),
    drawing("circle", { class: "es-slot", cx: AXIS[0], cy: AXIS[1], r: BODY + 3 }),
    marks.onBlock,
    turning,
    marks.onBody,
    drawing(
      "g",
      { transform: `translate(${AXIS[0]} ${AXIS[1] + SLOT})`, "data-part": "clamp" },
      touchHere(),
      bolt,
    ),
    cap,
    drawing("g", { "data-part": "lead" }, ...leads.map((lead) => lead.root), coilLead.root),
    ...numbers,
    arrow,
    nameAt([8, 158], "body", "start", [42, 156], [AXIS[0] - BODY + 8, AXIS[1] + 3]),
    nameAt([8, 60], "cap and leads", "start", [56, 66], [AXIS[0] - 30, AXIS[1] - 26]),
    nameAt([206, 18], "coil's lead"),
    unitName,
    rodName,
    screwName,
    clampWords,
    marks.name,
  );
  const layLeads = (/** @type {number} */ turned) => {
    for (const [index, lead] of leads.entries()) {
      const at = placeRound(AXIS, TOWERS, towers[index].deg + turned);
      lead.lay(leadPath(at, leadEnd(towers[index].deg, index)));
      const [x, y] = placeRound(AXIS, TOWERS - 17, towers[index].deg + turned);
      setAttribute(numbers[index], "x", x.toFixed(1));
      setAttribute(numbers[index], "y", y.toFixed(1));
    }
    coilLead.lay(`M ${written(AXIS)} C ${AXIS[0] - 2} 100 ${AXIS[0] + 5} 50 ${AXIS[0] - 2} -8`);
  };
  let clamp = "tight";
  /** @type {number | null} */
  let marked = null;
  let set = 0;
  const redraw = (/** @type {number} */ value) => {
    set = value;
    draw(Number((value + creep.shown).toFixed(3)));
  };
  const creep = new Creep(() => redraw(set), picture);
  const draw = (/** @type {number} */ value) => {
    const turn = `rotate(${value} ${AXIS[0]} ${AXIS[1]})`;
    setAttribute(turning, "transform", turn);
    setAttribute(cap, "transform", turn);
    setAttribute(marks.onBody, "transform", `rotate(${value - (marked ?? 0)} ${AXIS[0]} ${AXIS[1]})`);
    layLeads(value);
    pointTo(unitName, [322, 70], placeRound(AXIS, 136, 79 + value));
    pointTo(rodName, [362, 238], placeRound(AXIS, 106, 91 + value));
    pointTo(screwName, [364, 99], placeRound(AXIS, 148, 87.5 + value));
  };
  const handle = place.handle("distributor");
  if (handle) {
    handle.drawnBy(redraw);
    const body = /** @type {SVGGElement} */ (turning.querySelector(".es-body"));
    turnByDragging(body, handle, () => middleOnScreen(picture));
  } else redraw(0);
  refuseOthers(picture, place);
  place.handle("canister_screw")?.drawnBy((value) => unit.turnScrew(value));
  pressOnPicture(picture, place, () => ({ clamp }), "clamp");

  return {
    name: "distributor",
    called: "Distributor",
    title: "Distributor, seen from above the cap",
    picture,
    controls: [
      "distributor",
      "clamp",
      "mark_body",
      "back_to_mark",
      "canister_screw",
      "refit",
      "look_under_cap",
      "point_gap",
      "springs",
      "weights_stop",
    ],
    show: ({ settings, running, marked_at, crept_deg, arrow: told }) => {
      creep.to(crept_deg ?? 0);
      clamp = String(settings.clamp);
      marked = marked_at ?? null;
      marks.show(marked !== null);
      setAttribute(bolt, "transform", BOLT[clamp] ?? "");
      picture.classList.toggle("es-loose", clamp !== "tight");
      const words = clampWords.querySelector("text");
      if (words) setText(words, `clamp bolt, ${clamp}`);
      const draws = place.facts.vacuum_source === "manifold" || Number(settings.throttle) > 0;
      unit.show(String(settings.vacuum_hose), Boolean(running) && draws);
      setAttribute(arrow, "visibility", told ? "visible" : "hidden");
      if (told) arrow.replaceChildren(rotation(told === "clockwise" ? 1 : -1));
    },
  };
}

// The clamp as it bites: its bolt drags the body with it, and lets it spring back but for a little.
class Creep {
  shown = 0;
  /** @type {number | null} */
  wanted = null;
  from = 0;
  began_ms = 0;
  still = matchMedia("(prefers-reduced-motion: reduce)");

  /**
   * @param {() => void} redraw
   * @param {Element} picture
   */
  constructor(redraw, picture) {
    this.redraw = redraw;
    this.picture = picture;
  }

  /** @param {number} wanted */
  to(wanted) {
    if (wanted === this.wanted) return;
    const first = this.wanted === null || this.still.matches;
    [this.from, this.wanted, this.began_ms] = [this.shown, wanted, performance.now()];
    if (first) this.stand();
    else requestAnimationFrame(() => this.move(wanted));
  }

  /** @param {number} wanted */
  move(wanted) {
    if (wanted !== this.wanted) return; // it bites again
    const done = (performance.now() - this.began_ms) / CREEPS_MS;
    if (done >= 1 || !this.picture.isConnected) {
      this.stand();
      return;
    }
    this.shown = this.from + (wanted - this.from) * (done + SWINGS * Math.sin(Math.PI * done));
    this.redraw();
    requestAnimationFrame(() => this.move(wanted));
  }

  stand() {
    this.shown = this.wanted ?? 0;
    this.redraw();
  }
}

const BLOCK = "M 62 330 V 136 Q 62 96 100 88 L 150 60 H 246 L 292 88 Q 330 96 330 136 V 330 Z";
const BLOCK_EDGE = "M 72 330 V 140 Q 72 106 104 98 M 320 330 V 140 Q 320 106 288 98";

function lugOutline() {
  const slot = pieceOfRing(AXIS, SLOT - 8, SLOT + 8, 180 - SLOT_REACHES, 180 + SLOT_REACHES);
  return `${pieceOfRing(AXIS, BODY - 4, SLOT + 20, 180 - SLOT_REACHES - 9, 180 + SLOT_REACHES + 9)} ${slot}`;
}

/** @param {Place} at */
function tower([cx, cy]) {
  return drawing(
    "g",
    {},
    drawing("circle", { class: "es-tower", cx, cy, r: 12.5 }),
    drawing("circle", { class: "es-tower-top", cx, cy, r: 8 }),
  );
}

// The far end of a lead, at the upper edge: those of the left half go off to the left, in order of height.
/**
 * @param {number} deg
 * @param {number} index
 * @returns {Place}
 */
function leadEnd(deg, index) {
  const turn = ((deg % 360) + 360) % 360;
  const right = turn < 180;
  const down = right ? turn / 180 : (360 - turn) / 180;
  return [right ? 284 + 28 * down : 166 - 46 * down, -8 - (index % 2)];
}

// It leaves upwards or, from the lower half, to its side and up round the others.
/**
 * @param {Place} from
 * @param {Place} to
 */
function leadPath(from, to) {
  const [dx, dy] = [from[0] - AXIS[0], from[1] - AXIS[1]];
  const side = Math.sign(dx) || 1;
  /** @type {[Place, Place]} */
  const [first, second] =
    dy > 8
      ? [
          [from[0] + side * 54, from[1] + 14],
          [to[0] + side * -2, to[1] + 130],
        ]
      : [
          [from[0] + dx * 0.5, from[1] - 44],
          [to[0] - side * 6, to[1] + 56],
        ];
  return `M ${written(from)} C ${written(first)} ${written(second)} ${written(to)}`;
}

// A spring clip: hooked in at the body, bent over the cap's edge.
/** @param {number} deg */
function capClip(deg) {
  return drawing(
    "g",
    { transform: `translate(${AXIS.join(" ")}) rotate(${deg})` },
    drawing("path", {
      class: "es-part es-bright",
      d: `M -11 ${-BODY + 7} H 11 L 7 ${-CAP - 4} V ${-CAP + 9} Q 0 ${-CAP + 15} -7 ${-CAP + 9} V ${-CAP - 4} Z`,
    }),
    drawing("path", { class: "es-seam", d: `M -7 ${-CAP - 3} H 7 M -6 ${-CAP + 6} H 6` }),
    drawing("circle", { class: "es-slot", cy: -BODY + 13, r: 2.6 }),
  );
}

// The vacuum unit on the body's right, its rod below the cap's edge, and what is on its nipple.
/** @param {Shades} shade */
function vacuumUnit(shade) {
  const [x, y] = AXIS;
  const rod = drawing(
    "g",
    {},
    drawing("path", { class: "es-rod es-rod-edge", d: `M ${x + 80} ${y} H ${x + 124}` }),
    drawing("path", { class: "es-rod es-bright-rod", d: `M ${x + 80} ${y} H ${x + 124}` }),
    drawing("circle", { class: "es-rod-eye", cx: x + 98, cy: y, r: 5.5 }),
  );
  const screw = screwHead(7.5, shade.metal);
  const collar = boltHead(9, shade.brass);
  const hose = hoseOf("vacuum");
  hose.lay(
    `M ${x + 170} ${y} C ${x + 190} ${y} ${x + 196} ${y + 22} ${x + 200} ${y + 52} S ${x + 212} ${y + 80} ${x + 220} ${y + 84}`,
  );
  const root = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-part",
      d: `M ${x + 84} ${y - 15} H ${x + 124} V ${y + 15} H ${x + 84} Z`,
      fill: shade.level,
    }),
    drawing("path", { class: "es-slot", d: `M ${x + 92} ${y - 8} V ${y + 8} H ${x + 120} V ${y - 8} Z` }),
    rod,
    drawing("path", {
      class: "es-part",
      d: `M ${x + 124} ${y - 33} H ${x + 133} V ${y + 33} H ${x + 124} Z`,
      fill: shade.level,
    }),
    drawing("path", {
      class: "es-part",
      fill: shade.brassLevel,
      d: `M ${x + 133} ${y - 31} C ${x + 158} ${y - 30} ${x + 162} ${y - 9} ${x + 162} ${y} S ${x + 158} ${y + 30} ${x + 133} ${y + 31} Z`,
    }),
    drawing("path", {
      class: "es-part es-fine",
      fill: shade.brassLevel,
      d: `M ${x + 161} ${y - 4} H ${x + 166} L ${x + 168} ${y - 6} L ${x + 170} ${y - 4} L ${x + 172} ${y - 6} L ${x + 178} ${y - 3} V ${y + 3} L ${x + 172} ${y + 6} L ${x + 170} ${y + 4} L ${x + 168} ${y + 6} L ${x + 166} ${y + 4} H ${x + 161} Z`,
    }),
    drawing("g", { transform: `translate(${x + 148} ${y})` }, collar),
    drawing("g", { transform: `translate(${x + 148} ${y})`, "data-part": "canister_screw" }, screw.root),
    hose.root,
  );
  return {
    root,
    turnScrew: screw.turn,
    show: (/** @type {string} */ state, /** @type {boolean} */ draws) => {
      const on = state === "on";
      setAttribute(hose.root, "visibility", on ? "visible" : "hidden");
      setAttribute(rod, "transform", on && draws ? `translate(${ROD_PULLS} 0)` : "");
    },
  };
}

// One stroke of paint across body and block, made before the clamp is loosened.
function bodyMark() {
  const stroke = (/** @type {number} */ from, /** @type {number} */ to) =>
    drawing("path", {
      class: "es-paint",
      d: `M ${written(placeRound(AXIS, from, MARK_AT))} L ${written(placeRound(AXIS, to, MARK_AT))}`,
    });
  const onBody = stroke(BODY - 15, BODY - 1);
  const onBlock = stroke(BODY + 4, BODY + 22);
  const name = nameAt([8, 306], "mark", "start", [40, 300], placeRound(AXIS, BODY + 20, MARK_AT));
  return {
    onBody,
    onBlock,
    name,
    show: (/** @type {boolean} */ made) => {
      for (const part of [onBody, onBlock, name])
        setAttribute(part, "visibility", made ? "visible" : "hidden");
    },
  };
}

/** @param {1 | -1} way */
function rotation(way) {
  const radius = BODY - 13;
  const middle = 292;
  const tip = placeRound(AXIS, radius, middle + way * 24);
  const ends = [radius - 7, radius + 7].map((one) => written(placeRound(AXIS, one, middle + way * 15)));
  return drawing(
    "g",
    { class: "es-arrow" },
    drawing("path", { d: arcRound(AXIS, radius, middle - way * 22, middle + way * 16) }),
    drawing("path", { class: "es-arrow-tip", d: `M ${written(tip)} L ${ends.join(" L ")} Z` }),
  );
}

/**
 * @param {SVGSVGElement} picture
 * @returns {Place}
 */
function middleOnScreen(picture) {
  const place = new DOMPoint(...AXIS).matrixTransform(picture.getScreenCTM() ?? undefined);
  return [place.x, place.y];
}

// A hand that takes hold of the wrong part learns why not; nothing is sent.
/**
 * @param {SVGSVGElement} picture
 * @param {Workplace} place
 */
function refuseOthers(picture, place) {
  picture.addEventListener("pointerdown", (event) => {
    const part = /** @type {Element} */ (event.target).closest("[data-part]")?.getAttribute("data-part");
    const sentence = NOT_BY_THESE[part ?? ""];
    if (sentence) place.say(sentence);
  });
}
