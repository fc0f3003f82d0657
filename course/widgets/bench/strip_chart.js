// A strip of the last minutes: speed above, vacuum below, so that a peak can be seen coming and going.

import { element } from "../shared/elements.js";

/**
 * @import { VacuumUnit } from "../shared/units.js"
 *
 * @typedef {"speed" | "vacuum"} Lane
 * @typedef {{ time_s: number, speed: number | null, vacuum: number | null }} Seen
 * @typedef {[time_s: number, speed: number | null, vacuum: number | null][]} History
 * @typedef {Record<Lane | "ink" | "line", string>} Colours
 */

const SHOWN_S = 150;
const EVERY_S = 0.1;
const DRAWN_EVERY_MS = 80;
const GAP_S = 2;
/** @type {Lane[]} */
const LANES = ["speed", "vacuum"];
const LEAST = { rpm: 200, inHg: 4, kPa: 16 };

export class StripChart {
  constructor() {
    /** @type {Seen[]} */
    this.points = [];
    this.drawnAt = -Infinity;
    this.canvas = element("canvas", {
      class: "eb-strip",
      role: "img",
      "aria-label":
        "Strip of speed and vacuum over the last two and a half minutes; the gauges above say the same in words",
    });
    /** @type {VacuumUnit} */
    this.vacuumUnit = "inHg";
    this.vacuumOf = (/** @type {number} */ inhg) => inhg;
  }

  /**
   * @param {VacuumUnit} unit
   * @param {(inhg: number) => number} of
   */
  setUnit(unit, of) {
    this.vacuumUnit = unit;
    this.vacuumOf = of;
    this.drawnAt = -Infinity;
  }

  /**
   * @param {number} time_s
   * @param {number | null} speed
   * @param {number | null} vacuum
   */
  add(time_s, speed, vacuum) {
    const last = this.points.at(-1);
    if (last && time_s < last.time_s - 0.5) this.points = [];
    if (last && time_s - last.time_s < EVERY_S && time_s >= last.time_s) return;
    this.points.push({ time_s, speed, vacuum });
    while (this.points.length && this.points[0].time_s < time_s - SHOWN_S) this.points.shift();
  }

  // What was seen before this page was opened: [[time_s, speed, vacuum], ...], oldest first.
  /** @param {History} history */
  fill(history) {
    const latest = this.points;
    this.points = [];
    for (const [time_s, speed, vacuum] of history) this.add(time_s, speed, vacuum);
    const end = this.points.at(-1)?.time_s ?? -Infinity;
    for (const point of latest) if (point.time_s > end) this.add(point.time_s, point.speed, point.vacuum);
    this.drawnAt = -Infinity;
  }

  /** @param {number} now */
  draw(now) {
    if (now - this.drawnAt < DRAWN_EVERY_MS) return;
    this.drawnAt = now;
    const width = this.canvas.clientWidth,
      height = this.canvas.clientHeight,
      ratio = window.devicePixelRatio || 1;
    if (!width) return;
    if (
      this.canvas.width !== Math.round(width * ratio) ||
      this.canvas.height !== Math.round(height * ratio)
    ) {
      this.canvas.width = Math.round(width * ratio);
      this.canvas.height = Math.round(height * ratio);
    }
    const pen = this.canvas.getContext("2d");
    if (!pen) return;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    const style = getComputedStyle(this.canvas);
    const colours = {
      ink: style.getPropertyValue("--eb-quiet"),
      line: style.getPropertyValue("--eb-line"),
      speed: style.getPropertyValue("--eb-speed"),
      vacuum: style.getPropertyValue("--eb-vacuum"),
    };
    const laneHeight = (height - 16) / 2;
    LANES.forEach((lane, index) => {
      this.drawLane(pen, lane, index * laneHeight, laneHeight, width, colours);
    });
    this.drawMinutes(pen, width, height, colours);
  }

  /**
   * @param {CanvasRenderingContext2D} pen
   * @param {Lane} lane
   * @param {number} top
   * @param {number} height
   * @param {number} width
   * @param {Colours} colours
   */
  drawLane(pen, lane, top, height, width, colours) {
    const unit = lane === "vacuum" ? this.vacuumUnit : "rpm";
    const of = lane === "vacuum" ? this.vacuumOf : (/** @type {number} */ value) => value;
    const values = this.points
      .map((point) => point[lane])
      .filter((value) => value !== null)
      .map(of);
    const [low, high] = span(values, LEAST[unit]);
    const y = (/** @type {number} */ value) =>
      top + height - 6 - ((value - low) / (high - low)) * (height - 26);
    pen.font = `12px ${getComputedStyle(this.canvas).fontFamily}`;
    pen.textBaseline = "alphabetic";
    pen.strokeStyle = colours.line;
    pen.fillStyle = colours.ink;
    pen.lineWidth = 1;
    for (const value of [low, (low + high) / 2, high]) {
      pen.beginPath();
      pen.moveTo(46, Math.round(y(value)) + 0.5);
      pen.lineTo(width, Math.round(y(value)) + 0.5);
      pen.stroke();
      pen.textAlign = "right";
      pen.fillText(value.toFixed(0), 40, y(value) + 4);
    }
    pen.textAlign = "left";
    pen.fillStyle = colours[lane];
    pen.font = `600 ${pen.font}`;
    pen.fillText(`${lane === "vacuum" ? "Vacuum" : "Speed"}, ${unit}`, 48, top + 11);
    this.drawLine(pen, lane, of, y, width, colours);
  }

  /**
   * @param {CanvasRenderingContext2D} pen
   * @param {Lane} lane
   * @param {(value: number) => number} of
   * @param {(value: number) => number} y
   * @param {number} width
   * @param {Colours} colours
   */
  drawLine(pen, lane, of, y, width, colours) {
    const end = this.points.at(-1)?.time_s ?? 0;
    const x = (/** @type {number} */ time_s) => 46 + ((time_s - end + SHOWN_S) / SHOWN_S) * (width - 48);
    pen.strokeStyle = colours[lane];
    pen.lineWidth = 2;
    pen.lineJoin = "round";
    pen.beginPath();
    /** @type {number | null} */
    let before = null;
    for (const point of this.points) {
      const value = point[lane];
      if (value === null) before = null;
      else {
        const joined = before !== null && point.time_s - before < GAP_S;
        pen[joined ? "lineTo" : "moveTo"](x(point.time_s), y(of(value)));
        before = point.time_s;
      }
    }
    pen.stroke();
  }

  /**
   * @param {CanvasRenderingContext2D} pen
   * @param {number} width
   * @param {number} height
   * @param {Colours} colours
   */
  drawMinutes(pen, width, height, colours) {
    pen.font = `12px ${getComputedStyle(this.canvas).fontFamily}`;
    pen.fillStyle = colours.ink;
    pen.textAlign = "left";
    pen.fillText("2½ minutes ago", 46, height - 2);
    pen.textAlign = "right";
    pen.fillText("now", width - 2, height - 2);
  }
}

// The range [low, high] of a lane: at least `least`, on round steps, with a round middle.
/**
 * @param {number[]} values
 * @param {number} least
 */
export function span(values, least) {
  if (!values.length) return [0, least];
  const step = least / 4;
  const lowest = values.reduce((a, b) => Math.min(a, b)),
    highest = values.reduce((a, b) => Math.max(a, b));
  const missing = Math.max(least - (highest - lowest), 0) / 2;
  const low = Math.max(Math.floor((lowest - missing) / step), 0);
  const steps = Math.max(Math.ceil(highest / step) - low, 4);
  return [low * step, (low + steps + (steps % 2)) * step];
}
