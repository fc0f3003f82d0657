// The whole engine in a front three-quarter view: what is where, the part in hand lit, and what moves in life moving.

import { drawing, setAttribute } from "../../shared/elements.js";
import { blockAndSump, carburettorOnTop, headWithCover, placeOn } from "./engine_block.js";
import { arcRound, boltHead, hoseOf, pieceOfRing, placeRound, shadeFrom, shades, written } from "./shapes.js";

/**
 * @import { Facts, SceneState } from "./handles.js"
 * @import { Place } from "./shapes.js"
 */

const BLURRED_FROM_RPM = 300;
const CRANKING_RPM = 200;
const SPEED_NOT_READ_RPM = 800; // of a running engine whose tachometer is off: fast enough to be a blur
const BLUR_TURNS_DEG = 137.5; // a frame: no frame rate makes a blurred fan look still
const A_PICTURE_EVERY_MS = 30; // half as many as a screen has: what moves is drawn by the processor where there is no other
const SHAKE_PER_BEAT = 9; // units of the picture for a beat that is missing altogether
const EVEN_SHAKE = 0.35;
const SHAKE_FOLLOWS = 0.58; // of the way to the beat, in a picture

// How far the block stands off its rest, for the beat whose turn it is.
/**
 * @param {number[]} beats
 * @param {number} turn firings since some beginning
 */
export function shakeOf(beats, turn) {
  if (!beats.length) return 0;
  const mean = beats.reduce((sum, beat) => sum + beat, 0) / beats.length;
  return SHAKE_PER_BEAT * (mean - beats[Math.floor(turn) % beats.length]);
}

/** @param {SceneState} state */
export function speedShown({ running, cranking, speed_rpm }) {
  if (cranking) return CRANKING_RPM;
  return running ? (speed_rpm ?? SPEED_NOT_READ_RPM) : 0;
}

// The belt's pulleys on the front, which is drawn this much narrower than it is.
const FRONT_NARROWS = 0.8;
/** @type {[at: Place, radius: number][]} */
const PULLEYS = [
  [[144, 226], 27],
  [[138, 140], 15],
  [[194, 186], 15],
];
const FAN_REACHES = 54;
const HOLD = 32; // how far round its middle a part of the picture can be pressed

export class Overview {
  shade = shades();
  blades = drawing(
    "g",
    { class: "es-blades" },
    ...[0, 60, 120, 180, 240, 300].map((deg) =>
      drawing(
        "g",
        { transform: `rotate(${deg})` },
        drawing("path", {
          class: "es-part",
          d: `M -5 -9 L -14 -${FAN_REACHES - 9} Q -3 -${FAN_REACHES + 3} 12 -${FAN_REACHES - 5} L 5 -9 Z`,
          fill: this.shade.round,
        }),
        drawing("path", { class: "es-edge-light", d: `M -3 -14 L -10 -${FAN_REACHES - 12}` }),
      ),
    ),
  );
  blurredFan = drawing(
    "g",
    { class: "es-fan-blur" },
    drawing("circle", { class: "es-fan-disc", r: FAN_REACHES }),
    drawing("circle", { class: "es-fan-rim", r: FAN_REACHES - 2 }),
    drawing("circle", { class: "es-fan-rim", r: FAN_REACHES * 0.62 }),
  );
  pulleyFace = drawing(
    "g",
    {},
    ...[60, 180, 300].map((deg) =>
      drawing("path", { class: "es-hole", d: pieceOfRing([0, 0], 9, 15, deg - 34, deg + 34) }),
    ),
    drawing("path", { class: "es-paint es-small-mark", d: "M 0 -18 V -25" }),
  );
  belts = drawing("path", { class: "es-belt es-belt-runs", d: beltRound(PULLEYS) });
  lever = drawing("path", { class: "es-rod es-linkage", d: "M 0 0 L 20 0" });
  rod = drawing("path", { class: "es-rod es-small-rod", d: "M 252 204 H 264" });
  hosePlug = drawing("path", {
    class: "es-part es-fine es-plug",
    d: "M -3.5 -4 H 3.5 V 3 H 7 V 8 H -7 V 3 H -3.5 Z",
    transform: "translate(295 152) rotate(38)",
  });
  advanceHose = hoseOf("vacuum");
  gaugeHose = hoseOf("vacuum");
  clipWire = hoseOf("primary");
  /** @type {SceneState | null} */
  state = null;
  frame = 0;
  shown_ms = 0;
  fan = 0;
  pulley = 0;
  firings = 0;
  shake = 0;
  still = matchMedia("(prefers-reduced-motion: reduce)");

  // `choose(name)` is called with the part that was pressed on the picture.
  /**
   * @param {Facts} facts
   * @param {(name: string) => void} choose
   */
  constructor(facts, choose) {
    this.facts = facts;
    for (const hose of [this.gaugeHose, this.advanceHose, this.clipWire]) hose.root.classList.add("es-thin");
    this.engine = drawing("g", { class: "es-engine" }, ...this.parts());
    this.root = drawing(
      "svg",
      { class: "es-overview", viewBox: "0 0 400 300", "aria-hidden": "true", focusable: "false" },
      this.shade.defs,
      drawing("ellipse", { cx: 208, cy: 268, rx: 158, ry: 26, fill: this.shade.shadow }),
      this.engine,
      this.seat(),
    );
    for (const part of this.root.querySelectorAll("[data-look]"))
      part.addEventListener("click", () => choose(part.getAttribute("data-look") ?? ""));
  }

  parts() {
    const { shade, lever } = this;
    const eight = this.facts.cylinders === 8;
    return [
      ...blockAndSump(shade),
      ...(eight
        ? [
            ...headWithCover(shade, [-0.24, 0.3], false),
            carburettorOnTop(shade, true, lever),
            ...headWithCover(shade, [0.58, 1.1], true),
          ]
        : [...headWithCover(shade, [0.02, 0.98], true), carburettorOnTop(shade, false, lever)]),
      ...this.distributor(),
      ...this.coil(),
      drawing(
        "g",
        { "data-look": "hoses" },
        holdAt([372, 42]),
        this.gaugeHose.root,
        this.advanceHose.root,
        this.hosePlug,
        dialAt([372, 42], 40),
      ),
      ...this.front(),
    ];
  }

  // Its leads go to the plugs in the side of the head, each to its own.
  distributor() {
    const { blackRound, round, brassLevel, level, metal } = this.shade;
    const eight = this.facts.cylinders === 8;
    const count = this.facts.cylinders === 4 || eight ? 4 : 6;
    const leads = [];
    for (let index = 0; index < count; index += 1) {
      const share = index / (count - 1);
      const [x, y] = placeOn(eight ? 1.1 : 1, 0.1 + 0.8 * share, 122);
      const lead = hoseOf("tension");
      lead.root.classList.add("es-thin");
      lead.lay(
        `M ${226 + 22 * share} 180 C ${216 + 44 * share} ${160 - 8 * share} ${x - 2} ${y + 34} ${x + 2} ${y + 13}`,
      );
      leads.push(
        lead.root,
        drawing(
          "g",
          { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(-12)` },
          drawing("circle", { class: "es-hole", r: 6.5 }),
          drawing("path", { class: "es-part es-fine es-china", d: "M -3.5 -3 H 3.5 V 6 H -3.5 Z" }),
          drawing("path", {
            class: "es-cap es-fine",
            d: "M -4.5 4 H 4.5 L 3.4 16 H -3.4 Z",
            fill: blackRound,
          }),
        ),
      );
    }
    const towers = [220, 228, 237, 246, 253].map((x, index) =>
      drawing("path", {
        class: "es-cap es-fine",
        d: `M ${x - 4} ${184 - (index % 2) * 3} V ${174 - (index % 2) * 3} H ${x + 4} V ${184 - (index % 2) * 3} Z`,
        fill: blackRound,
      }),
    );
    return [
      drawing(
        "g",
        { "data-look": "distributor" },
        holdAt([238, 206]),
        // The clamp with its bolt on the block, the shaft's housing, the body, the cap.
        drawing("path", {
          class: "es-part es-fine",
          d: "M 214 228 L 260 218 Q 268 218 268 224 Q 268 230 260 231 L 216 240 Q 208 238 214 228 Z",
          fill: metal,
        }),
        drawing("g", { transform: "translate(260 224.5)" }, boltHead(3.2, metal)),
        drawing("path", { class: "es-part", d: "M 224 220 H 250 V 231 Q 237 238 224 234 Z", fill: round }),
        drawing("path", {
          class: "es-part",
          d: "M 216 196 H 258 V 214 Q 258 226 247 226 H 227 Q 216 226 216 214 Z",
          fill: round,
        }),
        this.rod,
        drawing("path", { class: "es-part es-fine", d: "M 262 188 H 267 V 220 H 262 Z", fill: level }),
        drawing("path", {
          class: "es-part",
          d: "M 267 189 Q 283 191 284 200 H 289 V 208 H 284 Q 283 217 267 219 Z",
          fill: brassLevel,
        }),
        ...towers,
        drawing("path", {
          class: "es-cap",
          d: "M 213 200 V 188 Q 217 179 237 179 T 261 188 V 200 Q 237 207 213 200 Z",
          fill: blackRound,
        }),
        drawing("path", { class: "es-part es-bright es-fine", d: "M 232 196 H 240 L 242 212 H 230 Z" }),
        ...leads,
      ),
    ];
  }

  coil() {
    const { blackRound, round } = this.shade;
    const lead = hoseOf("tension");
    lead.root.classList.add("es-thin");
    lead.lay("M 318 160 C 314 136 258 140 240 176");
    return [
      drawing(
        "g",
        { "data-look": "terminals" },
        holdAt([322, 192]),
        lead.root,
        drawing("path", { class: "es-part", d: "M 302 178 H 334 V 216 Q 318 224 302 216 Z", fill: round }),
        drawing("path", {
          class: "es-part",
          d: "M 298 194 Q 318 202 338 194 V 203 Q 318 211 298 203 Z",
          fill: this.shade.level,
        }),
        drawing("path", {
          class: "es-part es-fine es-brass",
          d: "M 304 168 H 309 V 176 H 304 Z M 327 168 H 332 V 176 H 327 Z",
        }),
        drawing("path", {
          class: "es-cap",
          d: "M 300 180 V 174 Q 302 171 311 170 L 314 158 H 322 L 325 170 Q 334 171 336 174 V 180 Q 318 187 300 180 Z",
          fill: blackRound,
        }),
        this.clipWire.root,
        dialAt([372, 90], -30),
      ),
    ];
  }

  // What the belt drives, all narrowed as the front is.
  front() {
    const { shaded, metal, black, level, round } = this.shade;
    /** @type {(which: number, fill: string, ...on: Element[]) => SVGGElement} */
    const disc = (which, fill, ...on) => {
      const [[x, y], radius] = PULLEYS[which];
      return drawing(
        "g",
        { transform: `translate(${x} ${y})` },
        drawing("circle", { class: "es-part", r: radius - 1, fill }),
        ...on,
      );
    };
    const [[crankX, crankY]] = PULLEYS[0];
    const [[fanX, fanY]] = PULLEYS[1];
    return [
      // The timing cover, wide at the crank and narrow above, with its bolts.
      drawing("path", {
        class: "es-part",
        d: "M 96 150 Q 97 138 110 138 H 128 Q 141 140 143 152 L 152 224 Q 152 250 134 253 L 112 250 Q 88 246 88 222 Z",
        fill: shadeFrom(this.shade.defs, [90, 140], [150, 250], ["light", "middle", "dark"]),
      }),
      ...[
        [101, 150],
        [139, 157],
        [95, 186],
        [146, 194],
        [92, 226],
        [147, 232],
      ].map(([cx, cy]) => drawing("circle", { class: "es-stud", cx, cy, r: 2.2 })),
      // The generator's body goes back along the block, held by its bracket.
      drawing("path", { class: "es-part es-fine", d: "M 166 196 L 196 190 L 190 214 H 172 Z", fill: metal }),
      drawing("path", {
        class: "es-part",
        d: "M 158 168 L 196 161 Q 208 162 208 179 T 196 196 L 158 203 Z",
        fill: level,
      }),
      drawing("path", { class: "es-seam-dark", d: "M 167 167 V 201 M 193 162 V 197" }),
      drawing("path", {
        class: "es-hole",
        d: "M 172 178 l 8 -1.5 v 4 l -8 1.500 Z M 172 187 l 8 -1.5 v 4 l -8 1.500 Z",
      }),
      drawing("path", { class: "es-part es-fine es-brass", d: "M 196 168 h 5 v 7 h -5 Z" }),
      drawing("path", { class: "es-part", d: "M 98 126 H 126 V 152 H 98 Z", fill: round }),
      drawing(
        "g",
        { transform: `scale(${FRONT_NARROWS} 1)` },
        drawing(
          "g",
          { "data-look": "pulley" },
          holdAt(PULLEYS[0][0]),
          drawing("path", { class: "es-belt-back", d: beltRound(PULLEYS) }),
          this.belts,
          disc(
            0,
            black,
            drawing("circle", { class: "es-part", r: 18, fill: metal }),
            this.pulleyFace,
            boltHead(5, metal),
          ),
          drawing("path", {
            class: "es-part es-bright es-fine",
            d: pieceOfRing([crankX, crankY], 29, 41, 8, 58),
          }),
          drawing("path", {
            class: "es-scale",
            d: [16, 25, 34, 43, 52]
              .map(
                (deg) =>
                  `M ${written(placeRound([crankX, crankY], 30, deg))} L ${written(placeRound([crankX, crankY], 36, deg))}`,
              )
              .join(" "),
          }),
        ),
        disc(2, metal, drawing("circle", { class: "es-seam-dark", r: 9 }), boltHead(4, metal)),
        disc(1, shaded, drawing("circle", { class: "es-seam-dark", r: 10 })),
        drawing(
          "g",
          { transform: `translate(${fanX} ${fanY})` },
          this.blurredFan,
          this.blades,
          drawing("circle", { class: "es-part", r: 13, fill: metal }),
          ...[45, 135, 225, 315].map((deg) => {
            const [cx, cy] = placeRound([0, 0], 9, deg);
            return drawing("circle", { class: "es-stud", cx, cy, r: 1.8 });
          }),
          drawing("circle", { class: "es-part es-bright", r: 4.5 }),
        ),
      ),
    ];
  }

  // Where the driver sits, with the wheel before it: another place, and in a frame of its own.
  seat() {
    return drawing(
      "g",
      { "data-look": "seat", transform: "translate(365 256)" },
      drawing("rect", { class: "es-inset", x: -33, y: -40, width: 66, height: 78, rx: 9 }),
      drawing("path", { class: "es-rod es-linkage", d: "M -26 30 L -14 -2" }),
      drawing(
        "g",
        { transform: "translate(-13 -5) rotate(28) scale(0.4 1)" },
        drawing("circle", { class: "es-wheel-rim es-small-wheel", r: 16 }),
      ),
      drawing("path", { class: "es-part", d: "M -12 19 H 21 V 26 H -12 Z", fill: this.shade.shaded }),
      drawing("path", {
        class: "es-cap",
        d: "M 11 -21 Q 11 -32 19 -32 Q 27 -31 26 -23 L 20 14 H 6 Z",
        fill: this.shade.black,
      }),
      drawing("path", {
        class: "es-cap",
        d: "M -11 5 H 14 Q 21 7 20 14 Q 20 20 14 20 H -9 Q -15 19 -15 12 Q -15 6 -11 5 Z",
        fill: this.shade.black,
      }),
    );
  }

  /** @param {string} name */
  light(name) {
    for (const part of this.root.querySelectorAll("[data-look]"))
      part.classList.toggle("es-lit", part.getAttribute("data-look") === name);
  }

  /** @param {SceneState} state */
  show(state) {
    this.state = state;
    const { settings } = state;
    this.layHoses(String(settings.vacuum_hose), String(settings.gauge_hose));
    this.clipWire.lay(
      settings.tachometer === "on"
        ? "M 332 168 C 344 156 372 150 373 106"
        : "M 350 190 C 352 160 378 140 373 106",
    );
    setAttribute(
      this.lever,
      "transform",
      `rotate(${40 - 70 * Number(settings.throttle) - 3 * Number(settings.idle_screw)})`,
    );
    const draws = this.facts.vacuum_source === "manifold" || Number(settings.throttle) > 0;
    setAttribute(
      this.rod,
      "transform",
      state.running && draws && settings.vacuum_hose === "on" ? "translate(3 0)" : "",
    );
    const rpm = speedShown(state);
    this.engine.classList.toggle("es-blurred", rpm > BLURRED_FROM_RPM);
    if (rpm && !this.still.matches && !this.frame) {
      this.shown_ms = performance.now();
      this.frame = requestAnimationFrame((now) => this.move(now));
    }
    if (!rpm) setAttribute(this.engine, "transform", "");
  }

  /**
   * @param {string} advance
   * @param {string} gauge
   */
  layHoses(advance, gauge) {
    const eight = this.facts.cylinders === 8;
    const [x, y] = eight ? [250, 62] : [290, 76];
    const from = `M ${x} ${y} C ${x + 36} ${y}`;
    /** @type {Record<string, string>} */
    const ways = {
      on: `${from} 316 206 287 204`,
      "off and open": `${from} 312 128 296 150`,
      "off and plugged": `${from} 312 128 296 150`,
    };
    this.advanceHose.lay(ways[advance] ?? ways.on);
    setAttribute(this.hosePlug, "visibility", advance === "off and plugged" ? "visible" : "hidden");
    const ported = `M ${x} ${y - 8} C ${x + 30} ${y - 16} 330 44 356 42`;
    const manifold = eight ? `M ${x - 8} 63 C 290 66 330 48 356 44` : "M 340 82 C 352 78 340 48 356 44";
    this.gaugeHose.lay(
      gauge === "manifold" ? manifold : gauge === "ported" ? ported : "M 360 52 C 340 56 338 70 346 84",
    );
  }

  // One frame of what moves; it goes on by itself as long as the engine turns and the picture is on the page.
  /** @param {number} now */
  move(now) {
    this.frame = 0;
    const state = this.state;
    const rpm = state ? speedShown(state) : 0;
    if (!state || !rpm || this.still.matches || !this.root.isConnected) return;
    this.frame = requestAnimationFrame((later) => this.move(later));
    if (now - this.shown_ms < A_PICTURE_EVERY_MS) return;
    const passed_s = Math.min(now - this.shown_ms, 100) / 1000;
    this.shown_ms = now;
    const turned = rpm > BLURRED_FROM_RPM ? BLUR_TURNS_DEG : rpm * 6 * passed_s;
    this.fan = (this.fan + turned) % 360;
    this.pulley = (this.pulley + turned) % 360;
    this.firings += (rpm * this.facts.cylinders * passed_s) / 120;
    this.shake += SHAKE_FOLLOWS * (shakeOf(state.beats ?? [], this.firings) - this.shake);
    const trembles = EVEN_SHAKE * Math.sin(this.firings * 2 * Math.PI);
    setAttribute(this.blades, "transform", `rotate(${this.fan.toFixed(1)})`);
    setAttribute(this.pulleyFace, "transform", `rotate(${this.pulley.toFixed(1)})`);
    this.belts.style.strokeDashoffset = String(-this.pulley / 4);
    const shift = (this.shake + trembles).toFixed(2);
    setAttribute(this.engine, "transform", `translate(${shift} ${shift})`);
  }
}

// Where a part of the picture is pressed, wider than it is drawn.
/** @param {Place} at */
function holdAt([cx, cy]) {
  return drawing("circle", { class: "es-touch", cx, cy, r: HOLD });
}

// A dial on its own, with what is written on it left out at this size.
/**
 * @param {Place} at
 * @param {number} deg
 */
function dialAt([x, y], deg) {
  return drawing(
    "g",
    { transform: `translate(${x} ${y})` },
    drawing("circle", { class: "es-part es-bright", r: 17 }),
    drawing("circle", { class: "es-face", r: 13 }),
    drawing("path", { class: "es-dial-arc", d: arcRound([0, 0], 9.5, -120, 120) }),
    drawing("path", { class: "es-needle", d: "M 0 3 V -8", transform: `rotate(${deg})` }),
  );
}

// Straight from rim to rim, and round each pulley, which are given clockwise.
/** @param {[Place, number][]} pulleys */
function beltRound(pulleys) {
  const runs = pulleys.map(([[x, y], radius], index) => {
    const [[toX, toY], toRadius] = pulleys[(index + 1) % pulleys.length];
    const away = Math.hypot(toX - x, toY - y);
    const lean = (radius - toRadius) / away;
    const [dx, dy] = [(toX - x) / away, (toY - y) / away];
    const across = Math.sqrt(1 - lean ** 2);
    const [outX, outY] = [dy * across + dx * lean, -dx * across + dy * lean];
    const off = written([x + outX * radius, y + outY * radius]);
    const on = written([toX + outX * toRadius, toY + outY * toRadius]);
    return `${index ? "L" : "M"} ${off} L ${on} A ${toRadius} ${toRadius} 0 0 1`;
  });
  const starts = runs.map((run) => run.split(" ").slice(1, 3).join(" "));
  return `${runs.map((run, index) => `${run.replace(/^L \S+ \S+ /, "")} ${starts[(index + 1) % runs.length]}`).join(" ")} Z`;
}
