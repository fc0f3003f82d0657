// The sheet on which a curve is drawn: scales, the line, and a handle for every point.

import { HANDS_OFF, drawing, setAttribute, setText } from "../shared/elements.js";

/**
 * @typedef {[rpm: number, degrees: number]} Place
 *
 * @typedef {object} Axes
 * @property {[number, number]} rpm
 * @property {[number, number]} degrees
 * @property {string} unit
 * @property {number} rpm_step
 * @property {number} degrees_step
 * @property {number} fewest_points
 * @property {number} most_points
 *
 * @typedef {{ name: string, rpm: number, degrees: number }} Point
 */

const SIZE = { width: 640, height: 380 };
const PLOT = { left: 54, right: 614, top: 14, bottom: 326 };
const LARGE_STEP = 5;

export class CurveSheet {
  // `place(point, rpm, degrees)` is called when a hand moves a point.
  /**
   * @param {Axes} axes
   * @param {(point: Point, rpm: number, degrees: number) => void} place
   */
  constructor(axes, place) {
    this.axes = axes;
    this.place = place;
    /** @type {Map<Point, { handle: SVGElement, mark: SVGElement }>} */
    this.shown = new Map();
    this.line = drawing("path", { class: "cf-curve-line" });
    this.level = drawing("path", { class: "cf-curve-level" });
    this.handles = drawing("g");
    this.root = drawing(
      "svg",
      {
        class: "cf-sheet",
        viewBox: `0 0 ${SIZE.width} ${SIZE.height}`,
        role: "group",
        "aria-label": `Curve of advance in ${axes.unit} over speed in rpm`,
      },
      ...this.scales(),
      this.level,
      this.line,
      this.handles,
    );
  }

  /** @param {number} rpm */
  across(rpm) {
    return PLOT.left + share(rpm, this.axes.rpm) * (PLOT.right - PLOT.left);
  }

  /** @param {number} degrees */
  down(degrees) {
    return PLOT.bottom - share(degrees, this.axes.degrees) * (PLOT.bottom - PLOT.top);
  }

  // The same scales for what is drawn beside the curve: where a speed and an advance lie, and the ends of the plot.
  scalesOfPlot() {
    return {
      across: (/** @type {number} */ rpm) => this.across(rpm),
      down: (/** @type {number} */ degrees) => this.down(degrees),
      edges: /** @type {[number, number]} */ ([PLOT.left, PLOT.right]),
    };
  }

  // Draw something below the curve and its handles.
  /** @param {SVGElement} drawn */
  lay(drawn) {
    this.root.insertBefore(drawn, this.level);
  }

  scales() {
    const [slowest, fastest] = this.axes.rpm,
      [least, most] = this.axes.degrees;
    const speeds = rounds(slowest, fastest).map((rpm) => [
      drawing("path", { class: "cf-grid", d: `M ${this.across(rpm)} ${PLOT.top} V ${PLOT.bottom}` }),
      this.number(rpm, this.across(rpm), PLOT.bottom + 20, "middle"),
    ]);
    const advances = rounds(least, most).map((degrees) => [
      drawing("path", { class: "cf-grid", d: `M ${PLOT.left} ${this.down(degrees)} H ${PLOT.right}` }),
      this.number(degrees, PLOT.left - 8, this.down(degrees) + 5, "end"),
    ]);
    const middle = (PLOT.top + PLOT.bottom) / 2;
    return [
      ...speeds.flat(),
      ...advances.flat(),
      drawing(
        "text",
        {
          class: "cf-scale cf-axis-across",
          transform: `translate(${(PLOT.left + PLOT.right) / 2} ${SIZE.height - 10})`,
          "text-anchor": "middle",
          "aria-hidden": "true",
        },
        "speed, rpm",
      ),
      drawing(
        "text",
        {
          class: "cf-scale cf-axis-up",
          transform: `translate(14 ${middle}) rotate(-90)`,
          "text-anchor": "middle",
          "aria-hidden": "true",
        },
        `advance, ${this.axes.unit}`,
      ),
    ];
  }

  /**
   * @param {string | number} text
   * @param {number} x
   * @param {number} y
   * @param {string} anchor
   */
  number(text, x, y, anchor) {
    return drawing(
      "text",
      { class: "cf-scale", x, y, "text-anchor": anchor, "aria-hidden": "true" },
      String(text),
    );
  }

  /** @param {Point[]} points */
  setPoints(points) {
    this.shown = new Map(points.map((point) => [point, this.handle(point)]));
    this.handles.replaceChildren(...[...this.shown.values()].map(({ handle }) => handle));
  }

  /** @param {Point} point */
  handle(point) {
    const mark = drawing("text", { class: "cf-handle-mark", "text-anchor": "middle", dy: "0.35em" }, "");
    /** @type {SVGElement} */
    const handle = drawing(
      "g",
      {
        ...HANDS_OFF,
        class: "cf-handle",
        tabindex: 0,
        role: "slider",
        "aria-label": point.name,
        "aria-valuemin": this.axes.degrees[0],
        "aria-valuemax": this.axes.degrees[1],
        on: {
          // The style touch-action is not heeded within a drawing: a finger would scroll the page.
          touchstart: (event) => event.preventDefault(),
          keydown: (event) => this.onArrow(event, point),
          pointerdown: (event) => this.onHandleGrasp(event, point, handle),
        },
      },
      drawing("circle", { class: "cf-handle-reach", r: 20 }),
      drawing("circle", { class: "cf-handle-dot", r: 11 }),
      mark,
    );
    return { handle, mark };
  }

  /** @param {Point[]} sorted */
  draw(sorted) {
    const places = sorted.map(({ rpm, degrees }) => [this.across(rpm), this.down(degrees)]);
    const first = places[0],
      last = places[places.length - 1];
    this.line.setAttribute("d", `M ${places.join(" L ")}`);
    this.level.setAttribute(
      "d",
      `M ${PLOT.left} ${first[1]} H ${first[0]} M ${last[0]} ${last[1]} H ${PLOT.right}`,
    );
    for (const [{ name, rpm, degrees }, { handle, mark }] of this.shown) {
      setText(mark, name.replace("Point ", ""));
      handle.setAttribute("transform", `translate(${this.across(rpm)} ${this.down(degrees)})`);
      setAttribute(handle, "aria-valuenow", degrees);
      setAttribute(handle, "aria-valuetext", `${rpm} rpm, ${degrees} ${this.axes.unit}`);
    }
  }

  /**
   * @param {KeyboardEvent} event
   * @param {Point} point
   */
  onArrow(event, point) {
    const steps = event.shiftKey ? LARGE_STEP : 1;
    /** @type {Record<string, [number, number] | undefined>} */
    const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] };
    const way = ways[event.key];
    if (!way) return;
    event.preventDefault();
    event.stopPropagation();
    const { rpm_step, degrees_step } = this.axes;
    this.place(point, point.rpm + way[0] * steps * rpm_step, point.degrees + way[1] * steps * degrees_step);
  }

  /**
   * @param {PointerEvent} event
   * @param {Point} point
   * @param {SVGElement} handle
   */
  onHandleGrasp(event, point, handle) {
    if (event.button !== 0) return;
    event.preventDefault();
    handle.focus();
    const follow = new AbortController();
    const end = () => follow.abort();
    window.addEventListener("pointermove", (moved) => this.dragTo(moved, point), { signal: follow.signal });
    window.addEventListener("pointerup", end, { signal: follow.signal });
    window.addEventListener("pointercancel", end, { signal: follow.signal });
  }

  /**
   * @param {PointerEvent} event
   * @param {Point} point
   */
  dragTo({ clientX, clientY }, point) {
    const box = this.root.getBoundingClientRect();
    const x = ((clientX - box.left) / box.width) * SIZE.width,
      y = ((clientY - box.top) / box.height) * SIZE.height;
    const { rpm, degrees } = this.axes;
    const along = (x - PLOT.left) / (PLOT.right - PLOT.left),
      up = (PLOT.bottom - y) / (PLOT.bottom - PLOT.top);
    this.place(point, rpm[0] + along * (rpm[1] - rpm[0]), degrees[0] + up * (degrees[1] - degrees[0]));
  }
}

/**
 * @param {number} value
 * @param {[number, number]} range
 */
function share(value, [low, high]) {
  return (value - low) / (high - low);
}

// Round numbers for a scale, five to ten of them.
/**
 * @param {number} low
 * @param {number} high
 */
function rounds(low, high) {
  const rough = (high - low) / 8;
  const size = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5].map((factor) => factor * size).find((one) => one >= rough) ?? 10 * size;
  const first = Math.ceil(low / step) * step;
  return Array.from(
    { length: Math.floor((high - first) / step + 1e-9) + 1 },
    (_, index) => first + index * step,
  );
}
