// The coil with its two primary terminals and its high tension lead, and what is clipped or clamped on there.

import { drawing, setAttribute } from "../../shared/elements.js";
import { offered } from "./handles.js";
import { layHose, looseEnd } from "./loose_end.js";
import { boltHead, closeUpPicture, hoseOf, nameAt, placeRound, shades, written } from "./shapes.js";
import { brokenOff, crocodileClip, keyInLock, PLUG_HIGH, sparkPlug } from "./small_parts.js";
import { INSTRUMENTS } from "./testers.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const SWITCH_SIDE = [142, 78];
/** @type {Record<string, Place>} */
const COIL_LEAD_PLACES = {
  "in the cap": [352, 176],
  "out and open": [306, 60],
  "out and earthed": [352, 290],
};
// Testers stand in a row below; each has a clip that goes on its place above, its lead to the given way, or lies by its
// instrument. `bends` are the ways of the lead out of the instrument and out of the clip that is on.
const TESTERS = /** @type {const} */ ([
  {
    name: "tachometer",
    box: 8,
    words: "tachometer",
    on: [238, 78],
    deg: -55,
    bends: [
      [0, -60],
      [60, 90],
    ],
  },
  {
    name: "dwell_meter",
    box: 78,
    words: "dwell",
    on: [266, 138],
    deg: 10,
    bends: [
      [0, -50],
      [-20, 70],
    ],
  },
  {
    name: "test_lamp",
    box: 148,
    words: "lamp",
    on: [310, 234],
    deg: 75,
    bends: [
      [-20, -44],
      [-60, 14],
    ],
  },
  {
    name: "timing_light",
    box: 218,
    words: "light",
    on: [366, 106],
    deg: -62,
    bends: [
      [110, 10],
      [14, 60],
    ],
  },
]);
const LIES_DEG = 25;

/**
 * @param {Workplace} place
 * @returns {CloseUp}
 */
export function terminals(place) {
  const shade = shades();
  const picture = closeUpPicture();
  const there = TESTERS.filter(({ name }) => offered(place, name));
  const testers = there.map((one) => tester(place, () => picture, one, shade));
  const lead = hoseOf("tension");
  const boot = drawing("path", {
    class: "es-boot",
    d: "M -4.5 -16 H 4.5 V -10 Q 9 -9 9 -4 V 8 H -9 V -4 Q -9 -9 -4.5 -10 Z",
  });
  const end = looseEnd(place, () => picture, {
    name: "coil_lead",
    places: COIL_LEAD_PLACES,
    elsewhere: "out and open",
    draw: (at, choice) => {
      const earthed = choice === "out and earthed";
      layHose(
        lead,
        [190, 44],
        earthed ? [90, -60] : [20, -50],
        earthed ? [-70, -150] : choice === "out and open" ? [0, -44] : [0, -90],
        [at[0], at[1] - 12],
      );
      setAttribute(boot, "transform", `translate(${at[0]} ${at[1]})`);
    },
  });
  const primary = [hoseOf("primary"), hoseOf("primary")];
  primary[0].lay("M 139 96 C 110 96 84 70 34 108");
  primary[1].lay("M 241 96 C 268 110 256 150 280 178 S 296 226 314 226");
  const plugLead = hoseOf("tension");
  plugLead.lay(`M 370 178 C 376 150 364 140 366 ${24 + PLUG_HIGH}`);
  const lock = keyInLock(shade);
  picture.append(
    shade.defs,
    ...testers.map((one) => one.lead),
    ...distributor(shade),
    plugLead.root,
    drawing("g", { transform: "translate(366 24) scale(1 -1)" }, sparkPlug(shade)),
    drawing("path", {
      class: "es-part",
      d: `M 332 6 H 394 Q 394 24 384 24 H 344 Q 332 24 332 6 Z`,
      fill: shade.shaded,
    }),
    ...primary.map((wire) => wire.root),
    ...coil(shade),
    drawing("g", { transform: "translate(28 108)", "data-part": "ignition_switch" }, lock.root),
    nameAt([8, 152], "ignition switch", "start"),
    ...testers.map((one) => one.root),
    drawing("g", { "data-part": "coil_lead" }, lead.root, boot),
    nameAt([116, 188], "coil", "end", [120, 184], [146, 184]),
    nameAt([8, 40], "switch side", "start", [62, 46], [126, 84]),
    nameAt([278, 108], "points side", "start", [276, 104], [248, 94]),
    nameAt([128, 20], "coil lead", "end", [132, 18], [203, 30]),
    nameAt([312, 172], "cap", "end", [314, 170], [332, 188]),
    nameAt([398, 78], "plug", "end"),
    nameAt([396, 314], "block, earth", "end"),
    ...testers.map((one) => one.name),
    ...(offered(place, "coil_lead") ? [end.grip] : []),
    ...testers.map((one) => one.grip),
  );
  return {
    name: "terminals",
    called: "Coil",
    title: "Coil terminals and clips",
    picture,
    controls: ["tachometer", "coil_lead", "dwell_meter", "timing_light", "test_lamp", "ignition_switch"],
    show: ({ settings }) => {
      lock.turn(settings.ignition_switch === "on" ? 48 : 0);
      end.show(String(settings.coil_lead ?? "in the cap"));
      for (const [index, one] of testers.entries()) one.show(String(settings[there[index].name]));
    },
  };
}

// Cap, body with its terminal, and foot on the block, which has a bolt to earth the lead at.
/** @param {Shades} shade */
function distributor(shade) {
  const bolt = boltHead(7, shade.metal);
  setAttribute(bolt, "transform", "translate(352 296)");
  return [
    drawing("path", {
      class: "es-part",
      d: `M 306 262 H 396 ${brokenOff([396, 262], [396, 318])} H 306 ${brokenOff([306, 318], [306, 262])} Z`,
      fill: shade.shaded,
    }),
    drawing("path", { class: "es-part", d: "M 334 246 H 370 V 262 H 334 Z", fill: shade.round }),
    drawing("path", {
      class: "es-part",
      d: "M 322 204 H 382 V 232 Q 382 248 366 248 H 338 Q 322 248 322 232 Z",
      fill: shade.round,
    }),
    drawing("path", {
      class: "es-part es-fine",
      d: "M 322 220 H 314 V 214 H 306 V 238 H 314 V 232 H 322 Z",
      fill: shade.brass,
    }),
    drawing("path", {
      class: "es-cap",
      d: "M 318 206 V 198 L 330 184 H 374 L 386 198 V 206 Z",
      fill: shade.blackRound,
    }),
    ...[334, 370].map((x) =>
      drawing("path", {
        class: "es-cap es-fine",
        d: `M ${x - 5} 188 V 174 H ${x + 5} V 188 Z`,
        fill: shade.blackRound,
      }),
    ),
    drawing("path", { class: "es-cap es-fine", d: "M 345 186 V 172 H 359 V 186 Z", fill: shade.blackRound }),
    drawing("path", { class: "es-part es-bright es-fine", d: "M 349 198 H 355 L 357 216 H 347 Z" }),
    bolt,
  ];
}

// A can in its strap, the black top with its tower, and a threaded stud with its nut and its sign at either side.
/** @param {Shades} shade */
function coil(shade) {
  const stud = (/** @type {number} */ x) => [
    drawing("path", {
      class: "es-part es-fine",
      d: `M ${x - 3} 100 V 76 H ${x + 3} V 100 Z`,
      fill: shade.brass,
    }),
    drawing("path", {
      class: "es-part es-fine",
      d: `M ${x - 8} 90 H ${x + 8} V 99 H ${x - 8} Z`,
      fill: shade.brass,
    }),
    drawing("path", { class: "es-seam", d: `M ${x - 3} 90 V 99 M ${x + 3} 90 V 99` }),
  ];
  return [
    drawing("path", {
      class: "es-part",
      d: "M 146 112 H 234 V 200 Q 234 210 224 210 H 156 Q 146 210 146 200 Z",
      fill: shade.round,
    }),
    drawing("path", { class: "es-part", d: "M 142 148 H 238 V 168 H 142 Z", fill: shade.round }),
    drawing("path", { class: "es-seam", d: "M 146 204 H 234 M 142 152 H 238 M 142 164 H 238" }),
    drawing("g", { transform: "translate(190 158)" }, boltHead(5, shade.metal)),
    ...stud(142),
    ...stud(238),
    drawing("path", {
      class: "es-cap",
      d: "M 132 122 V 106 Q 132 98 142 98 H 168 Q 178 97 179 86 L 181 42 H 199 L 201 86 Q 202 97 212 98 H 238 Q 248 98 248 106 V 122 Z",
      fill: shade.blackRound,
    }),
    drawing("path", { class: "es-cap-seam", d: "M 132 116 H 248 M 181 52 H 199 M 180 60 H 200" }),
    drawing("path", { class: "es-sign", d: "M 150 107 H 160 M 155 102 V 112 M 220 107 H 230" }),
  ];
}

/**
 * @param {Workplace} place
 * @param {() => SVGSVGElement} picture
 * @param {typeof TESTERS[number]} one
 * @param {Shades} shade
 */
function tester(place, picture, { name, box, words, on, deg, bends }, shade) {
  const clamp = name === "timing_light";
  const lead = hoseOf(clamp ? "tension" : "primary");
  lead.root.classList.add("es-thin");
  const clip = clamp ? pickUp() : crocodileClip("primary");
  const end = looseEnd(place, picture, {
    name,
    places: {
      on: [on[0], on[1]],
      off: [box + 44, 218],
      ...(name === "tachometer" && { "on the switch side": SWITCH_SIDE }),
    },
    elsewhere: "off",
    draw: (at, choice) => {
      const lies = choice !== "on";
      const turn = choice === "on the switch side" ? 55 : lies ? LIES_DEG : deg;
      const tail = clip.put(at, turn);
      const out = placeRound([0, 0], 20, turn + 180);
      layHose(
        lead,
        [box + (name === "test_lamp" ? 6 : 16), name === "test_lamp" ? 292 : 268],
        lies ? [0, -20] : [...bends[0]],
        lies ? out : [...bends[1]],
        tail,
      );
    },
  });
  return {
    lead: drawing("g", { "data-part": name }, lead.root),
    root: drawing(
      "g",
      { "data-part": name },
      drawing("g", { transform: `translate(${box} 256)` }, ...INSTRUMENTS[name](shade)),
      clip.root,
    ),
    name: box === TESTERS[0].box ? nameAt([1, 314], words) : nameAt([box + 34, 314], words, "middle"),
    grip: end.grip,
    show: end.show,
  };
}

// The timing light's pick-up, which closes round a lead.
function pickUp() {
  const root = drawing(
    "g",
    {},
    drawing("path", {
      class: "es-boot",
      d: "M -12 -9 Q -12 -13 -8 -13 H 8 Q 12 -13 12 -9 V 12 L 6 18 V 27 H -6 V 18 L -12 12 Z",
    }),
    drawing("path", { class: "es-sleeve", d: "M -8 -3 H 8 V 3 H -8 Z" }),
  );
  return {
    root,
    put: (/** @type {Place} */ at, /** @type {number} */ deg) => {
      setAttribute(root, "transform", `translate(${written(at)}) rotate(${deg})`);
      return placeRound(at, 26, deg + 180);
    },
  };
}
