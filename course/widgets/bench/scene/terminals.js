// The coil with its two primary terminals and its high tension lead, and what is clipped or clamped on there.

import { drawing, setAttribute } from "../../shared/elements.js";
import { offered } from "./handles.js";
import { layHose, looseEnd } from "./loose_end.js";
import { closeUpPicture, hoseOf, nameAt, shades } from "./shapes.js";

/**
 * @import { CloseUp, Workplace } from "./handles.js"
 * @import { Place, Shades } from "./shapes.js"
 */

/** @type {Place} */
const POINTS_SIDE = [238, 92];
/** @type {Place} */
const SWITCH_SIDE = [142, 78];
/** @type {Record<string, Place>} */
const COIL_LEAD_PLACES = {
  "in the cap": [352, 176],
  "out and open": [306, 60],
  "out and earthed": [352, 300],
};
// Testers stand in a row below; each has a clip that goes on the points side of the coil or lies by its box.
const TESTERS = /** @type {const} */ ([
  { name: "tachometer", box: 8, words: "tachometer", kind: "primary", on: [238, 78] },
  { name: "dwell_meter", box: 78, words: "dwell", kind: "primary", on: [266, 138] },
  { name: "test_lamp", box: 148, words: "lamp", kind: "primary", on: [310, 234] },
  { name: "timing_light", box: 218, words: "light", kind: "tension", on: [382, 106] },
]);

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
  const boot = drawing("path", { class: "es-boot", d: "M -8 -12 H 8 V 4 L 5 12 H -5 L -8 4 Z" });
  const end = looseEnd(place, () => picture, {
    name: "coil_lead",
    places: COIL_LEAD_PLACES,
    elsewhere: "out and open",
    draw: (at, choice) => {
      layHose(lead, [190, 44], [10, -66], choice === "out and earthed" ? [-50, -40] : [0, -80], at);
      setAttribute(boot, "transform", `translate(${at[0]} ${at[1]})`);
    },
  });
  const primary = [hoseOf("primary"), hoseOf("primary")];
  primary[0].lay("M 142 92 C 110 80 44 64 30 98");
  const plugLead = hoseOf("tension");
  plugLead.lay("M 366 184 C 368 150 372 118 410 84");
  const switchLever = drawing("path", { class: "es-rod", d: "M 0 0 V -20" });
  primary[1].lay("M 238 96 C 256 128 282 216 318 226");
  picture.append(
    shade.defs,
    drawing("path", { class: "es-part", d: "M 316 262 H 408 V 330 H 316 Z", fill: shade.shaded }),
    drawing("path", {
      class: "es-part",
      d: "M 318 204 H 386 V 250 H 372 V 262 H 332 V 250 H 318 Z",
      fill: shade.metal,
    }),
    drawing("path", { class: "es-cap", d: "M 322 204 L 330 182 H 374 L 382 204 Z", fill: shade.black }),
    drawing("path", { class: "es-cap", d: "M 344 184 V 170 H 360 V 184 Z", fill: shade.black }),
    ...coil(shade),
    plugLead.root,
    ...primary.map((wire) => wire.root),
    drawing(
      "g",
      { transform: "translate(28 112)", "data-part": "ignition_switch" },
      drawing("circle", { class: "es-part", r: 15, fill: shade.metal }),
      switchLever,
    ),
    nameAt([8, 146], "ignition switch", "start"),
    ...testers.map((one) => one.root),
    drawing("g", { "data-part": "coil_lead" }, lead.root, boot),
    nameAt([116, 172], "coil", "end", [120, 168], [142, 172]),
    nameAt([8, 40], "switch side", "start", [60, 46], [132, 88]),
    nameAt([270, 110], "points side", "start", [268, 106], POINTS_SIDE),
    nameAt([128, 20], "coil lead", "end", [132, 18], [190, 20]),
    nameAt([316, 166], "cap", "end", [317, 166], [334, 186]),
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
      setAttribute(switchLever, "transform", `rotate(${settings.ignition_switch === "on" ? 50 : -50})`);
      end.show(String(settings.coil_lead ?? "in the cap"));
      for (const [index, one] of testers.entries()) one.show(String(settings[there[index].name]));
    },
  };
}

/** @param {Shades} shade */
function coil(shade) {
  return [
    drawing("path", {
      class: "es-part",
      d: "M 142 112 H 238 V 232 Q 238 240 230 240 H 150 Q 142 240 142 232 Z",
      fill: shade.metal,
    }),
    drawing("path", { class: "es-part", d: "M 134 168 H 246 V 186 H 134 Z", fill: shade.shaded }),
    drawing("path", {
      class: "es-cap",
      d: "M 138 112 Q 138 98 152 98 H 174 L 180 44 H 200 L 206 98 H 228 Q 242 98 242 112 Z",
      fill: shade.black,
    }),
    ...[142, 238].map((x) =>
      drawing("path", {
        class: "es-part es-bright",
        d: `M ${x - 4} 100 V 82 H ${x + 4} V 100 Z M ${x - 8} 92 H ${x + 8} V 98 H ${x - 8} Z`,
      }),
    ),
  ];
}

/**
 * @param {Workplace} place
 * @param {() => SVGSVGElement} picture
 * @param {{ name: string, box: number, words: string, kind: string, on: readonly [number, number] }} one
 * @param {Shades} shade
 */
function tester(place, picture, { name, box, words, kind, on }, shade) {
  const lead = hoseOf(kind);
  const clip = drawing("path", {
    class: `es-clip es-${kind}`,
    d: "M 0 -2 L -6 -14 M 0 -2 L 6 -14 M 0 -2 L -5 10 M 0 -2 L 5 10",
  });
  const end = looseEnd(place, picture, {
    name,
    places: {
      on: [on[0], on[1]],
      off: [box + 36, 240],
      ...(name === "tachometer" && { "on the switch side": SWITCH_SIDE }),
    },
    elsewhere: "off",
    draw: (at) => {
      layHose(lead, [box + 22, 266], [0, -40], [-10, 40], at);
      setAttribute(clip, "transform", `translate(${at[0]} ${at[1]})`);
    },
  });
  return {
    root: drawing(
      "g",
      { "data-part": name },
      lead.root,
      drawing("rect", { class: "es-part", x: box, y: 262, width: 62, height: 36, rx: 5, fill: shade.shaded }),
      drawing("circle", { class: "es-face", cx: box + 22, cy: 280, r: 12 }),
      clip,
    ),
    name: box === TESTERS[0].box ? nameAt([4, 314], words) : nameAt([box + 31, 314], words, "middle"),
    grip: end.grip,
    show: end.show,
  };
}
