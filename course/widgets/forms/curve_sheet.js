// The sheet on which a curve is drawn: scales, the line, and a handle for every point.

import { HANDS_OFF, drawing, setAttribute, setText } from "../shared/elements.js";

const SIZE = { width: 640, height: 380 };
const PLOT = { left: 54, right: 614, top: 14, bottom: 326 };
const LARGE_STEP = 5;

export class CurveSheet {
  // `place(point, rpm, degrees)` is called when a hand moves a point.
  constructor(axes, place) {
    Object.assign(this, { axes, place });
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

  across(rpm) {
    return PLOT.left + share(rpm, this.axes.rpm) * (PLOT.right - PLOT.left);
  }

  down(degrees) {
    return PLOT.bottom - share(degrees, this.axes.degrees) * (PLOT.bottom - PLOT.top);
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
      this.number("speed, rpm", (PLOT.left + PLOT.right) / 2, SIZE.height - 10, "middle"),
      drawing(
        "text",
        {
          class: "cf-scale",
          transform: `translate(14 ${middle}) rotate(-90)`,
          "text-anchor": "middle",
          "aria-hidden": true,
        },
        `advance, ${this.axes.unit}`,
      ),
    ];
  }

  number(text, x, y, anchor) {
    return drawing(
      "text",
      { class: "cf-scale", x, y, "text-anchor": anchor, "aria-hidden": true },
      String(text),
    );
  }

  setPoints(points) {
    this.points = points;
    this.handles.replaceChildren(...points.map((point) => this.handle(point)));
  }

  handle(point) {
    point.mark = drawing("text", { class: "cf-handle-mark", "text-anchor": "middle", dy: "0.35em" }, "");
    point.handle = drawing(
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
          keydown: (event) => this.onArrow(event, point),
          pointerdown: (event) => this.onHandleGrasp(event, point),
        },
      },
      drawing("circle", { class: "cf-handle-reach", r: 20 }),
      drawing("circle", { class: "cf-handle-dot", r: 11 }),
      point.mark,
    );
    return point.handle;
  }

  draw(sorted) {
    const places = sorted.map(({ rpm, degrees }) => [this.across(rpm), this.down(degrees)]);
    const first = places[0],
      last = places[places.length - 1];
    this.line.setAttribute("d", `M ${places.join(" L ")}`);
    this.level.setAttribute(
      "d",
      `M ${PLOT.left} ${first[1]} H ${first[0]} M ${last[0]} ${last[1]} H ${PLOT.right}`,
    );
    for (const point of this.points) {
      const { rpm, degrees } = point;
      setText(point.mark, point.name.replace("Point ", ""));
      point.handle.setAttribute("transform", `translate(${this.across(rpm)} ${this.down(degrees)})`);
      setAttribute(point.handle, "aria-valuenow", degrees);
      setAttribute(point.handle, "aria-valuetext", `${rpm} rpm, ${degrees} ${this.axes.unit}`);
    }
  }

  onArrow(event, point) {
    const steps = event.shiftKey ? LARGE_STEP : 1;
    const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (!way) return;
    event.preventDefault();
    event.stopPropagation();
    const { rpm_step, degrees_step } = this.axes;
    this.place(point, point.rpm + way[0] * steps * rpm_step, point.degrees + way[1] * steps * degrees_step);
  }

  onHandleGrasp(event, point) {
    if (event.button !== 0) return;
    event.preventDefault();
    point.handle.focus();
    const follow = new AbortController();
    const end = () => follow.abort();
    window.addEventListener("pointermove", (moved) => this.dragTo(moved, point), { signal: follow.signal });
    window.addEventListener("pointerup", end, { signal: follow.signal });
    window.addEventListener("pointercancel", end, { signal: follow.signal });
  }

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

function share(value, [low, high]) {
  return (value - low) / (high - low);
}

// Round numbers for a scale, five to ten of them.
function rounds(low, high) {
  const rough = (high - low) / 8;
  const size = 10 ** Math.floor(Math.log10(rough));
  const step = [1, 2, 5, 10].map((factor) => factor * size).find((one) => one >= rough);
  const first = Math.ceil(low / step) * step;
  return Array.from(
    { length: Math.floor((high - first) / step + 1e-9) + 1 },
    (_, index) => first + index * step,
  );
}
