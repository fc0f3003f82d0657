// The whole engine in a front three-quarter view: what is where, the part in hand lit, and what moves in life moving.

import { drawing, setAttribute } from "../../shared/elements.js";
import { boltHead, hoseOf, placeRound, shades, written } from "./shapes.js";

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

export class Overview {
  shade = shades();
  blades = drawing(
    "g",
    { class: "es-blades" },
    ...[0, 72, 144, 216, 288].map((deg) =>
      drawing("path", {
        class: "es-part",
        d: "M -6 -8 Q -16 -34 -10 -60 Q 2 -66 14 -58 Q 10 -32 6 -8 Z",
        fill: this.shade.metal,
        transform: `rotate(${deg})`,
      }),
    ),
  );
  blurredFan = drawing("circle", { class: "es-fan-blur", r: 62 });
  pulleyFace = drawing(
    "g",
    {},
    ...[0, 120, 240].map((deg) => {
      const [cx, cy] = placeRound([0, 0], 13, deg);
      return drawing("circle", { class: "es-hole", cx, cy, r: 4 });
    }),
  );
  belts = drawing("path", { class: "es-belt es-belt-runs", d: BELT });
  lever = drawing("path", { class: "es-rod es-linkage", d: "M 0 0 L 24 0" });
  rod = drawing("path", { class: "es-rod es-small-rod", d: "M 238 181 H 250" });
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
    this.gaugeHose.root.classList.add("es-thin");
    this.engine = drawing("g", { class: "es-engine" }, ...this.parts());
    this.root = drawing(
      "svg",
      { class: "es-overview", viewBox: "0 0 400 300", "aria-hidden": "true", focusable: "false" },
      this.shade.defs,
      drawing("path", { class: "es-floor", d: "M 40 288 L 130 300 L 400 252 L 316 240 Z" }),
      this.engine,
      this.seat(),
    );
    for (const part of this.root.querySelectorAll("[data-look]"))
      part.addEventListener("click", () => choose(part.getAttribute("data-look") ?? ""));
  }

  parts() {
    const { metal, shaded, black } = this.shade;
    const eight = this.facts.cylinders === 8;
    const face = (/** @type {string} */ d, /** @type {string} */ fill) =>
      drawing("path", { class: "es-part", d, fill });
    const cover = (/** @type {string} */ move) =>
      drawing(
        "g",
        { transform: move },
        face("M 152 64 L 338 42 L 344 68 L 158 94 Z", shaded),
        face("M 92 58 L 152 64 L 158 94 L 88 86 Z", metal),
        drawing("path", { class: "es-part es-bright", d: "M 92 58 L 152 64 L 338 42 L 280 36 Z" }),
      );
    return [
      ...(eight ? [face("M 44 90 L 118 96 L 124 128 L 78 120 Z", metal), cover("translate(-44 6)")] : []),
      face("M 166 256 L 352 214 L 338 246 L 178 286 Z", shaded),
      face("M 78 238 L 166 256 L 178 286 L 98 268 Z", metal),
      face("M 166 132 L 352 100 L 352 214 L 166 256 Z", shaded),
      face("M 78 118 L 166 132 L 166 256 L 78 238 Z", metal),
      face("M 160 92 L 346 66 L 352 100 L 166 132 Z", shaded),
      face("M 84 84 L 160 92 L 166 132 L 78 118 Z", metal),
      cover(eight ? "translate(14 4)" : ""),
      ...this.carburettor(eight),
      ...this.distributor(black, shaded),
      ...this.coil(black, metal),
      ...this.front(shaded, metal),
    ];
  }

  /** @param {boolean} eight */
  carburettor(eight) {
    const { metal, shaded } = this.shade;
    const lift = eight ? "translate(-30 -12)" : "";
    return [
      drawing(
        "g",
        { "data-look": "carburettor", transform: lift },
        drawing("path", {
          class: "es-part",
          d: "M 188 122 L 326 98 Q 334 98 334 106 V 112 L 190 138 Q 182 138 182 130 Z",
          fill: metal,
        }),
        drawing("path", { class: "es-part", d: "M 240 62 H 276 V 110 L 240 116 Z", fill: metal }),
        drawing("path", {
          class: "es-part",
          d: "M 222 74 H 240 V 100 H 226 Q 220 100 220 92 Z",
          fill: shaded,
        }),
        drawing("path", {
          class: "es-part",
          d: "M 212 40 Q 212 28 258 28 T 304 40 V 54 Q 304 66 258 66 T 212 54 Z",
          fill: shaded,
        }),
        drawing("path", {
          class: "es-part es-bright",
          d: "M 212 40 Q 212 28 258 28 T 304 40 Q 304 50 258 50 T 212 40 Z",
        }),
        drawing("g", { transform: "translate(276 92)" }, this.lever),
      ),
      drawing("g", { "data-look": "hoses" }, this.gaugeHose.root, this.advanceHose.root),
    ];
  }

  /**
   * @param {string} black
   * @param {string} shaded
   */
  distributor(black, shaded) {
    const count = this.facts.cylinders === 4 ? 4 : this.facts.cylinders === 8 ? 4 : 6;
    const leads = Array.from({ length: count }, (_, index) => {
      const lead = hoseOf("tension");
      lead.root.classList.add("es-thin");
      const x = 186 + (index * 148) / (count - 1);
      const y = 112 - (x - 166) * 0.15;
      lead.lay(`M ${214 + (index * 20) / (count - 1)} 152 C ${206 + index * 8} 126 ${x} ${y + 36} ${x} ${y}`);
      return lead.root;
    });
    return [
      drawing(
        "g",
        { "data-look": "distributor" },
        ...leads,
        drawing("path", {
          class: "es-part",
          d: "M 204 172 H 240 L 236 198 L 232 222 H 214 L 208 198 Z",
          fill: shaded,
        }),
        this.rod,
        drawing("path", { class: "es-part es-brass", d: "M 248 168 Q 268 170 268 181 T 248 194 Z" }),
        drawing("path", {
          class: "es-cap",
          d: "M 202 172 V 160 Q 204 150 222 150 T 242 160 V 172 Q 222 180 202 172 Z",
          fill: black,
        }),
      ),
    ];
  }

  /**
   * @param {string} black
   * @param {string} metal
   */
  coil(black, metal) {
    const lead = hoseOf("tension");
    lead.root.classList.add("es-thin");
    lead.lay("M 312 158 C 310 136 240 130 223 152");
    this.clipWire.root.classList.add("es-thin");
    return [
      drawing(
        "g",
        { "data-look": "terminals" },
        lead.root,
        drawing("path", { class: "es-part", d: "M 298 172 H 328 V 212 Q 313 220 298 212 Z", fill: metal }),
        drawing("path", {
          class: "es-cap",
          d: "M 297 173 V 166 L 307 164 L 309 154 H 317 L 319 164 L 329 166 V 173 Z",
          fill: black,
        }),
        this.clipWire.root,
      ),
    ];
  }

  /**
   * @param {string} shaded
   * @param {string} metal
   */
  front(shaded, metal) {
    const bolt = boltHead(5, metal);
    return [
      drawing(
        "g",
        { "data-look": "pulley" },
        drawing("path", { class: "es-scale-long", d: "M 136 192 L 146 196 M 132 190 L 138 184" }),
        this.belts,
        drawing(
          "g",
          { transform: "translate(122 228) scale(0.74 1)" },
          drawing("circle", { class: "es-part", r: 28, fill: metal }),
          this.pulleyFace,
          bolt,
        ),
      ),
      drawing(
        "g",
        { transform: "translate(72 196) scale(0.74 1)" },
        drawing("circle", { class: "es-part", r: 15, fill: shaded }),
      ),
      drawing(
        "g",
        { transform: "translate(112 142) scale(0.5 1)" },
        drawing("circle", { class: "es-part", r: 20, fill: shaded }),
        this.blurredFan,
        this.blades,
        drawing("circle", { class: "es-part es-bright", r: 11 }),
      ),
    ];
  }

  // Behind the bulkhead: where the driver sits.
  seat() {
    return drawing(
      "g",
      { "data-look": "seat", transform: "translate(372 250)" },
      drawing("circle", { class: "es-touch", r: 28 }),
      drawing("circle", { class: "es-wheel-rim es-small-wheel", r: 20 }),
      drawing("path", { class: "es-wheel-spoke es-small-wheel", d: "M -18 0 H 18 M 0 0 V 18" }),
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
        ? "M 326 166 C 348 160 356 190 404 176"
        : "M 352 206 C 362 190 378 190 404 176",
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
    /** @type {Record<string, string>} */
    const ways = {
      on: "M 276 104 C 304 104 300 176 268 181",
      "off and open": "M 276 104 C 300 104 292 140 284 152",
      "off and plugged": "M 276 104 C 306 104 300 138 288 146",
    };
    this.advanceHose.lay(ways[advance] ?? ways.on);
    this.gaugeHose.lay(
      gauge === "manifold"
        ? "M 316 104 C 330 70 366 96 404 76"
        : gauge === "ported"
          ? "M 276 78 C 318 60 350 92 404 76"
          : "M 360 110 C 362 92 380 84 404 76",
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

// Round the crank's pulley, the generator's and the fan's, which the belt touches at their rims.
const BELT = beltRound([
  [[122, 228], 23],
  [[72, 196], 13],
  [[112, 142], 13],
]);

/** @param {[Place, number][]} pulleys */
function beltRound(pulleys) {
  const corners = pulleys.flatMap(([at, radius], index) => {
    const ends = [pulleys.at(index - 1), pulleys[(index + 1) % pulleys.length]];
    return ends.map((other) => {
      const [dx, dy] = [(other?.[0][0] ?? 0) - at[0], (other?.[0][1] ?? 0) - at[1]];
      const away = Math.hypot(dx, dy);
      const side = other === ends[0] ? 1 : -1;
      return written([at[0] + (side * -dy * radius) / away, at[1] + (side * dx * radius) / away]);
    });
  });
  return `M ${corners.join(" L ")} Z`;
}
