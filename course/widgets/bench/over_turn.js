// The learner's own readings over the turn of the distributor body: a dot for the vacuum and a triangle for the speed of
// each, and nothing that was not read. Readings at which the engine idled otherwise than now are drawn hollow.

import { drawing, setAttribute } from "../shared/elements.js";
import { span } from "./strip_chart.js";

/**
 * @import { VacuumUnit } from "../shared/units.js"
 *
 * @typedef {[turn_deg: number, vacuum_inhg: number | null, speed_rpm: number | null, otherwise: boolean]} OwnReading
 * @typedef {{ left: number, right: number, top: number, bottom: number, from: number, to: number }} Frame
 */

const LEAST_SHOWN = { rpm: 100, inHg: 2, kPa: 8 };
const LEAST_TURN_DEG = 4; // to either side of the readings
const NOTHING_YET = "No reading yet: press Read the gauges at each place of the body.";

export class OverTurn {
  constructor() {
    /** @type {OwnReading[]} */
    this.readings = [];
    this.turn = 0;
    /** @type {VacuumUnit} */
    this.unit = "inHg";
    this.vacuumOf = (/** @type {number} */ inhg) => inhg;
    this.root = drawing("svg", { class: "eb-over-turn", role: "img", "aria-label": NOTHING_YET });
    new ResizeObserver(() => this.draw()).observe(this.root);
  }

  /**
   * @param {VacuumUnit} unit
   * @param {(inhg: number) => number} of
   */
  setUnit(unit, of) {
    this.unit = unit;
    this.vacuumOf = of;
    this.draw();
  }

  /** @param {OwnReading[]} readings */
  show(readings) {
    this.readings = readings;
    const count = readings.length === 1 ? "1 reading" : `${readings.length} readings`;
    const words = `Your own readings over the turn of the distributor body: ${count}, from ${turnInWords(
      Math.min(...readings.map(([turn]) => turn)),
    )} to ${turnInWords(Math.max(...readings.map(([turn]) => turn)))}; the written record has them in words`;
    setAttribute(this.root, "aria-label", readings.length ? words : NOTHING_YET);
    this.draw();
  }

  // Where the body stands now.
  /** @param {number} turn */
  stand(turn) {
    if (turn === this.turn) return;
    this.turn = turn;
    this.draw();
  }

  draw() {
    const { clientWidth: width, clientHeight: height } = this.root;
    if (!width) return;
    setAttribute(this.root, "viewBox", `0 0 ${width} ${height}`);
    const turns = [...this.readings.map(([turn]) => turn), this.turn];
    /** @type {Frame} */
    const frame = {
      left: 44,
      right: width - 48,
      top: 20,
      bottom: height - 34,
      from: Math.floor(Math.min(...turns) / 2) * 2 - LEAST_TURN_DEG,
      to: Math.ceil(Math.max(...turns) / 2) * 2 + LEAST_TURN_DEG,
    };
    const x = (/** @type {number} */ turn) =>
      frame.left + ((turn - frame.from) / (frame.to - frame.from)) * (frame.right - frame.left);
    this.root.replaceChildren(
      ...this.axis(frame, x, width, height),
      ...this.scale(
        frame,
        "vacuum",
        (reading) => reading[1] && this.vacuumOf(reading[1]),
        x,
        LEAST_SHOWN[this.unit],
      ),
      ...this.scale(frame, "speed", (reading) => reading[2], x, LEAST_SHOWN.rpm),
    );
  }

  /**
   * @param {Frame} frame
   * @param {(turn: number) => number} x
   * @param {number} width
   * @param {number} height
   */
  axis({ left, right, top, bottom, from, to }, x, width, height) {
    /** @type {SVGElement[]} */
    const parts = [drawing("path", { class: "eb-axis", d: `M ${left} ${bottom} H ${right}` })];
    const every = [2, 4, 5, 10].find((step) => ((to - from) / step) * 44 < right - left) ?? 10;
    for (let turn = Math.ceil(from / every) * every; turn <= to; turn += every) {
      parts.push(
        drawing("path", { class: "eb-axis", d: `M ${x(turn).toFixed(1)} ${bottom} v 5` }),
        label(turn ? `${Math.abs(turn)}°` : "found", x(turn), bottom + 16, "middle"),
      );
    }
    if (!this.readings.length) parts.push(label("no reading yet", width / 2, (top + bottom) / 2, "middle"));
    return [
      ...parts,
      drawing("path", { class: "eb-now", d: `M ${x(this.turn).toFixed(1)} ${top} V ${bottom}` }),
      label("anticlockwise ← turn of the body → clockwise", (left + right) / 2, height - 3, "middle"),
    ];
  }

  // One scale with its marks: dots to the left axis, triangles to the right one.
  /**
   * @param {Frame} frame
   * @param {"vacuum" | "speed"} lane
   * @param {(reading: OwnReading) => number | null} valueAt
   * @param {(turn: number) => number} x
   * @param {number} least
   */
  scale({ left, right, top, bottom }, lane, valueAt, x, least) {
    const seen = this.readings.flatMap((reading) => {
      const value = valueAt(reading);
      return value === null ? [] : [{ value, turn: reading[0], otherwise: reading[3] }];
    });
    const [low, high] = span(
      seen.map(({ value }) => value),
      least,
    );
    const y = (/** @type {number} */ value) =>
      bottom - 4 - ((value - low) / (high - low)) * (bottom - top - 8);
    const vacuum = lane === "vacuum";
    const numbers = [low, (low + high) / 2, high].map((value) =>
      label(
        String(Number(value.toFixed(1))),
        vacuum ? left - 7 : right + 7,
        y(value) + 4,
        vacuum ? "end" : "start",
      ),
    );
    const lines = vacuum
      ? [low, (low + high) / 2, high].map((value) =>
          drawing("path", { class: "eb-grid", d: `M ${left} ${y(value).toFixed(1)} H ${right}` }),
        )
      : [];
    const name = vacuum
      ? label(`● vacuum, ${this.unit}`, left, 12, "start")
      : label("▲ speed, rpm", right, 12, "end");
    const group = drawing("g", { class: `eb-own-${lane}` }, name, ...numbers);
    seen.forEach(({ value, turn, otherwise }, index) => {
      const latest = index === seen.length - 1 && !otherwise;
      const [across, down] = [x(turn).toFixed(1), y(value).toFixed(1)];
      const size = latest ? 6 : 4;
      const kind = `eb-own${otherwise ? " eb-own-ghost" : ""}`;
      group.append(
        vacuum
          ? drawing("circle", { class: kind, cx: Number(across), cy: Number(down), r: size })
          : drawing("path", {
              class: kind,
              d: `M ${across} ${Number(down) - size} l ${size} ${1.75 * size} h ${-2 * size} Z`,
            }),
      );
    });
    return [...lines, group];
  }
}

/** @param {number} turn */
function turnInWords(turn) {
  if (!turn) return "where you found it";
  return `${Math.abs(turn)}° ${turn > 0 ? "clockwise" : "anticlockwise"}`;
}

/**
 * @param {string} text
 * @param {number} x
 * @param {number} y
 * @param {"start" | "middle" | "end"} anchor
 */
function label(text, x, y, anchor) {
  return drawing("text", { x: Number(x.toFixed(1)), y: Number(y.toFixed(1)), "text-anchor": anchor }, text);
}
