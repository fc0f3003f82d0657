// The whole engine in a front three-quarter view: what is where, the part in hand lit, and what moves in life moving.

import { drawing, setAttribute } from "../../shared/elements.js";
import { arcRound, boltHead, hoseOf, pieceOfRing, placeRound, shades, written } from "./shapes.js";

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

// A place on the side of the block: `along` from its front to its rear, `down` from the head's joint to the sump's.
/**
 * @param {number} along
 * @param {number} down
 * @returns {Place}
 */
function onSide(along, down) {
  const joint = 142 - 30 * along;
  return [166 + 186 * along, joint + (256 - 42 * along - joint) * down];
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
          d: `M -4 -8 L -12 -${FAN_REACHES - 8} Q -2 -${FAN_REACHES + 2} 10 -${FAN_REACHES - 4} L 5 -8 Z`,
          fill: this.shade.metal,
        }),
        drawing("path", { class: "es-seam", d: `M 0 -12 L 3 -${FAN_REACHES - 6}` }),
      ),
    ),
  );
  blurredFan = drawing("circle", { class: "es-fan-blur", r: FAN_REACHES });
  pulleyFace = drawing(
    "g",
    {},
    ...[60, 180, 300].map((deg) =>
      drawing("path", { class: "es-hole", d: pieceOfRing([0, 0], 9, 15, deg - 34, deg + 34) }),
    ),
    drawing("path", { class: "es-paint es-small-mark", d: "M 0 -18 V -25" }),
  );
  belts = drawing("path", { class: "es-belt es-belt-runs", d: beltRound(PULLEYS) });
  lever = drawing("path", { class: "es-rod es-linkage", d: "M 0 0 L 24 0" });
  rod = drawing("path", { class: "es-rod es-small-rod", d: "M 252 204 H 264" });
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
    for (const hose of [this.gaugeHose, this.advanceHose]) hose.root.classList.add("es-thin");
    this.engine = drawing("g", { class: "es-engine" }, ...this.parts());
    this.root = drawing(
      "svg",
      { class: "es-overview", viewBox: "0 0 400 300", "aria-hidden": "true", focusable: "false" },
      this.shade.defs,
      drawing("path", {
        class: "es-floor",
        d: "M 84 272 Q 90 268 110 270 L 330 238 Q 366 236 372 246 L 196 297 Q 180 300 166 297 Z",
      }),
      this.engine,
      this.seat(),
    );
    for (const part of this.root.querySelectorAll("[data-look]"))
      part.addEventListener("click", () => choose(part.getAttribute("data-look") ?? ""));
  }

  parts() {
    const { metal, shaded } = this.shade;
    const eight = this.facts.cylinders === 8;
    const face = (/** @type {string} */ d, /** @type {string} */ fill) =>
      drawing("path", { class: "es-part", d, fill });
    const cover = (/** @type {string} */ move) =>
      drawing(
        "g",
        { transform: move },
        face("M 150 68 L 338 44 L 344 70 L 156 98 Z", shaded),
        face("M 92 60 L 150 68 L 156 98 L 86 88 Z", metal),
        drawing("path", { class: "es-part es-bright", d: "M 92 60 L 150 68 L 338 44 L 282 38 Z" }),
        drawing("path", { class: "es-seam", d: "M 153 84 L 341 58" }),
        drawing("path", {
          class: "es-cap",
          d: "M 116 62 V 54 Q 126 49 136 54 V 64 Q 126 69 116 62 Z",
          fill: this.shade.blackRound,
        }),
      );
    return [
      ...(eight ? [face("M 44 92 L 118 98 L 124 132 L 78 122 Z", metal), cover("translate(-44 6)")] : []),
      ...(eight ? this.carburettor("translate(-34 -14)") : []),
      // The sump, the block, the head with its joint, the cover.
      face("M 166 256 L 352 214 L 338 246 L 178 286 Z", shaded),
      face("M 78 238 L 166 256 L 178 286 L 98 268 Z", metal),
      face("M 166 142 L 352 112 L 352 214 L 166 256 Z", shaded),
      face("M 78 126 L 166 142 L 166 256 L 78 238 Z", metal),
      drawing("path", { class: "es-seam", d: "M 166 248 L 352 206 M 78 230 L 166 248" }),
      face("M 160 94 L 346 68 L 352 112 L 166 142 Z", shaded),
      face("M 84 84 L 160 94 L 166 142 L 78 126 Z", metal),
      cover(eight ? "translate(14 4)" : ""),
      ...(eight ? [] : this.carburettor("")),
      drawing(
        "g",
        { "data-look": "hoses" },
        this.gaugeHose.root,
        this.advanceHose.root,
        dialAt([380, 70], 40),
      ),
      ...this.distributor(),
      ...this.coil(),
      ...this.front(),
    ];
  }

  /** @param {string} move */
  carburettor(move) {
    const { metal, shaded, round, level } = this.shade;
    return [
      drawing(
        "g",
        { "data-look": "carburettor", transform: move },
        drawing("path", {
          class: "es-part",
          d: "M 190 106 L 322 84 Q 332 83 332 91 V 95 Q 332 101 326 102 L 194 126 Q 184 126 184 118 V 114 Q 184 107 190 106 Z",
          fill: level,
        }),
        drawing("path", { class: "es-part", d: "M 236 92 L 280 86 V 98 L 236 104 Z", fill: shaded }),
        drawing("path", { class: "es-part", d: "M 240 60 H 276 V 88 L 240 93 Z", fill: round }),
        drawing("path", { class: "es-part", d: "M 216 66 H 240 V 88 H 222 Q 216 88 216 82 Z", fill: metal }),
        drawing("path", {
          class: "es-part",
          d: "M 212 38 Q 212 26 258 26 T 304 38 V 50 Q 304 62 258 62 T 212 50 Z",
          fill: round,
        }),
        drawing("path", {
          class: "es-part es-bright",
          d: "M 212 38 Q 212 26 258 26 T 304 38 Q 304 48 258 48 T 212 38 Z",
        }),
        drawing("path", {
          class: "es-part es-fine",
          d: "M 251 37 Q 251 34 258 34 T 265 37 T 258 40 T 251 37 Z",
          fill: metal,
        }),
        drawing("g", { transform: "translate(272 80)" }, this.lever),
      ),
    ];
  }

  // Its leads go to the plugs in the side of the head, each to its own.
  distributor() {
    const { blackRound, round, brassLevel, level } = this.shade;
    const count = this.facts.cylinders === 4 || this.facts.cylinders === 8 ? 4 : 6;
    const leads = [];
    for (let index = 0; index < count; index += 1) {
      const share = index / (count - 1);
      const [x, y] = onSide(0.1 + 0.8 * share, -0.08);
      const lead = hoseOf("tension");
      lead.root.classList.add("es-thin");
      lead.lay(
        `M ${224 + 26 * share} 178 C ${216 + 44 * share} ${158 - 8 * share} ${x - 4} ${y + 30} ${x - 2} ${y + 10}`,
      );
      leads.push(
        lead.root,
        drawing(
          "g",
          { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(12)` },
          drawing("path", { class: "es-part es-fine es-china", d: "M -3.5 -4 H 3.5 V 4 H -3.5 Z" }),
          drawing("path", { class: "es-cap es-fine", d: "M -4.5 2 H 4.5 L 3 13 H -3 Z", fill: blackRound }),
        ),
      );
    }
    return [
      drawing(
        "g",
        { "data-look": "distributor" },
        drawing("path", { class: "es-part", d: "M 222 222 H 252 V 244 H 226 Z", fill: round }),
        drawing("path", {
          class: "es-part",
          d: "M 217 194 H 257 V 216 Q 257 226 247 226 H 227 Q 217 226 217 216 Z",
          fill: round,
        }),
        this.rod,
        drawing("path", { class: "es-part es-fine", d: "M 262 191 H 267 V 217 H 262 Z", fill: level }),
        drawing("path", { class: "es-part", d: "M 267 192 Q 284 194 284 204 T 267 216 Z", fill: brassLevel }),
        drawing("path", {
          class: "es-cap",
          d: "M 214 197 V 186 Q 218 174 237 174 T 260 186 V 197 Q 237 204 214 197 Z",
          fill: blackRound,
        }),
        ...leads,
      ),
    ];
  }

  coil() {
    const { blackRound, round } = this.shade;
    const lead = hoseOf("tension");
    lead.root.classList.add("es-thin");
    lead.lay("M 318 158 C 312 138 262 146 238 176");
    this.clipWire.root.classList.add("es-thin");
    return [
      drawing(
        "g",
        { "data-look": "terminals" },
        lead.root,
        drawing("path", { class: "es-part", d: "M 302 176 H 334 V 212 Q 318 220 302 212 Z", fill: round }),
        drawing("path", { class: "es-part", d: "M 300 192 H 336 V 200 Q 318 206 300 200 Z", fill: round }),
        drawing("path", {
          class: "es-cap",
          d: "M 300 178 V 170 L 313 167 L 315 155 H 321 L 323 167 L 336 170 V 178 Q 318 184 300 178 Z",
          fill: blackRound,
        }),
        this.clipWire.root,
        dialAt([380, 166], -30),
      ),
    ];
  }

  // What the belt drives, all narrowed as the front is.
  front() {
    const { shaded, metal, black, level } = this.shade;
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
    const [[fanX, fanY]] = PULLEYS[1];
    return [
      // The generator's body goes back along the block.
      drawing("path", {
        class: "es-part",
        d: "M 158 170 L 196 163 Q 208 164 208 180 T 196 197 L 158 203 Z",
        fill: level,
      }),
      drawing("path", { class: "es-seam", d: "M 168 169 V 201 M 192 164 V 197" }),
      drawing(
        "g",
        { transform: `scale(${FRONT_NARROWS} 1)` },
        drawing(
          "g",
          { "data-look": "pulley" },
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
            d: pieceOfRing(PULLEYS[0][0], 29, 41, 8, 58),
          }),
          drawing("path", {
            class: "es-scale",
            d: [16, 25, 34, 43, 52]
              .map(
                (deg) =>
                  `M ${written(placeRound(PULLEYS[0][0], 30, deg))} L ${written(placeRound(PULLEYS[0][0], 36, deg))}`,
              )
              .join(" "),
          }),
        ),
        disc(2, metal, boltHead(4, metal)),
        disc(1, shaded),
        drawing(
          "g",
          { transform: `translate(${fanX} ${fanY})` },
          this.blurredFan,
          this.blades,
          drawing("circle", { class: "es-part", r: 13, fill: metal }),
          drawing("circle", { class: "es-part es-bright", r: 5 }),
        ),
      ),
    ];
  }

  // Where the driver sits, with the wheel before it.
  seat() {
    return drawing(
      "g",
      { "data-look": "seat", transform: "translate(368 258)" },
      drawing("circle", { class: "es-touch", r: 32 }),
      drawing("path", { class: "es-rod es-linkage", d: "M -30 30 L -15 -4" }),
      drawing(
        "g",
        { transform: "translate(-14 -6) rotate(28) scale(0.4 1)" },
        drawing("circle", { class: "es-wheel-rim es-small-wheel", r: 17 }),
      ),
      drawing("path", { class: "es-part", d: "M -14 19 H 20 V 26 H -14 Z", fill: this.shade.shaded }),
      drawing("path", {
        class: "es-cap",
        d: "M 10 -22 Q 10 -34 19 -34 Q 27 -33 26 -24 L 20 14 H 5 Z",
        fill: this.shade.black,
      }),
      drawing("path", {
        class: "es-cap",
        d: "M -12 5 H 14 Q 21 7 20 14 Q 20 20 14 20 H -10 Q -16 19 -16 12 Q -16 6 -12 5 Z",
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
        ? "M 330 168 C 338 156 352 158 366 164"
        : "M 356 206 C 346 196 350 174 366 168",
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
    const from = eight ? "M 244 50 C 330 40" : "M 276 76 C 320 76";
    /** @type {Record<string, string>} */
    const ways = {
      on: `${from} 310 204 284 204`,
      "off and open": `${from} 304 160 300 168`,
      "off and plugged": `${from} 306 150 294 160`,
    };
    this.advanceHose.lay(ways[advance] ?? ways.on);
    const ported = eight ? "M 240 46 C 300 20 330 70 366 68" : "M 276 70 C 306 56 330 76 366 68";
    const manifold = eight ? "M 246 54 C 290 40 330 60 366 68" : "M 328 92 C 350 92 344 70 366 70";
    this.gaugeHose.lay(
      gauge === "manifold" ? manifold : gauge === "ported" ? ported : "M 380 84 C 380 104 364 100 362 124",
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
