// The whole engine in a front three-quarter view: what is where, the part in hand lit, and what moves in life moving.

import { drawing, setAttribute } from "../../shared/elements.js";
import { blockAndSump, carburettorOnTop, headWithCover } from "./engine_block.js";
import { engineFront } from "./engine_front.js";
import { coilAtBlock, distributorAtBlock } from "./engine_ignition.js";
import { hoseOf, shades } from "./shapes.js";
import { dialAt, holdAt } from "./small_parts.js";

/**
 * @import { Facts, SceneState } from "./handles.js"
 * @import { Shades } from "./shapes.js"
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
  front = engineFront(this.shade);
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
      driversSeat(this.shade),
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
      ...distributorAtBlock(shade, this.facts.cylinders, this.rod),
      ...coilAtBlock(shade, this.clipWire),
      drawing(
        "g",
        { "data-look": "hoses" },
        holdAt([372, 42]),
        this.gaugeHose.root,
        this.advanceHose.root,
        this.hosePlug,
        dialAt([372, 42], 40),
      ),
      ...this.front.parts,
    ];
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
    this.front.turn(this.fan, this.pulley);
    const shift = (this.shake + trembles).toFixed(2);
    setAttribute(this.engine, "transform", `translate(${shift} ${shift})`);
  }
}

// Where the driver sits, with the wheel before it: another place, and in a frame of its own.
/** @param {Shades} shade */
function driversSeat(shade) {
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
    drawing("path", { class: "es-part", d: "M -12 19 H 21 V 26 H -12 Z", fill: shade.shaded }),
    drawing("path", {
      class: "es-cap",
      d: "M 11 -21 Q 11 -32 19 -32 Q 27 -31 26 -23 L 20 14 H 6 Z",
      fill: shade.black,
    }),
    drawing("path", {
      class: "es-cap",
      d: "M -11 5 H 14 Q 21 7 20 14 Q 20 20 14 20 H -9 Q -15 19 -15 12 Q -15 6 -11 5 Z",
      fill: shade.black,
    }),
  );
}
