// A curve of advance over speed: its points are moved on the sheet, or written in fields.

import { HANDS_OFF, element, freshId, onEnter, pushButton, setText } from "../shared/elements.js";
import { CurvePull } from "./curve_pull.js";
import { CurveSheet } from "./curve_sheet.js";
import { showForm } from "./form_view.js";
import { hear } from "../shared/late_start.js";

/**
 * @import { Form, OrEmpty } from "../types.d.ts"
 * @import { Pull } from "./curve_pull.js"
 * @import { Axes, Place, Point } from "./curve_sheet.js"
 *
 * @typedef {"rpm" | "degrees"} Quantity
 * @typedef {{ axes: Axes, start: Place[], pull: OrEmpty<Pull> }} Traits
 * @typedef {Form<Traits, { value: Place[] }, { value: [string, string][] }>} CurveForm
 *
 * @typedef {Record<Quantity, HTMLInputElement>} Fields
 */

/** @param {CurveForm} view */
function render(view) {
  const gone = new AbortController();
  const leave = showForm(view, (model, send) => curveWork(model, send, gone.signal));
  return () => {
    gone.abort();
    leave();
  };
}

/**
 * @param {CurveForm["model"]} model
 * @param {() => void} send
 * @param {AbortSignal} gone
 */
function curveWork(model, send, gone) {
  const curve = new CurveWork(model.get("axes"), model.get("answer").value ?? model.get("start"), send);
  const listener = () => curve.pull.show(model.get("pull"));
  model.on("change:pull", listener);
  gone.addEventListener("abort", () => model.off("change:pull", listener));
  listener();
  return { root: curve.root, value: () => ({ value: curve.texts() }) };
}

class CurveWork {
  // `axes` is the sheet; `points` are pairs of speed and advance.
  /**
   * @param {Axes} axes
   * @param {Place[]} points
   * @param {() => void} send
   */
  constructor(axes, points, send) {
    this.axes = axes;
    this.send = send;
    this.points = points.map(([rpm, degrees]) => ({ name: "", rpm, degrees }));
    /** @type {Map<Point, Fields>} */
    this.fields = new Map();
    this.heard = element("p", { class: "cf-hidden", role: "status", "aria-live": "polite" });
    this.sheet = new CurveSheet(axes, (point, rpm, degrees) => this.place(point, rpm, degrees));
    this.pull = new CurvePull(this.sheet.scalesOfPlot());
    this.sheet.lay(this.pull.onSheet);
    this.rows = element("div", { class: "cf-points-list" });
    this.add = pushButton("Add a point", () => this.addPoint(), { class: "cf-add" });
    this.root = element(
      "div",
      { class: "cf-curve-work" },
      element("div", { class: "cf-curve-picture" }, this.sheet.root, this.pull.root),
      element(
        "div",
        { class: "cf-curve-numbers" },
        element(
          "p",
          { class: "cf-hint" },
          "Drag a point, or give it the focus and press the arrow keys (with Shift in larger steps), or write its numbers.",
        ),
        this.rows,
        this.add,
        this.heard,
      ),
    );
    this.rebuild();
  }

  sorted() {
    return [...this.points].sort((one, other) => one.rpm - other.rpm);
  }

  /** @returns {[string, string][]} */
  texts() {
    return this.points.map((point) => {
      const { rpm, degrees } = this.fieldsOf(point);
      return [rpm.value, degrees.value];
    });
  }

  /** @param {Point} point */
  fieldsOf(point) {
    return /** @type {Fields} */ (this.fields.get(point));
  }

  rebuild() {
    this.points = this.sorted();
    this.fields = new Map();
    this.rows.replaceChildren(...this.points.map((point, index) => this.row(point, index)));
    this.add.setAttribute("aria-disabled", String(this.points.length >= this.axes.most_points));
    this.sheet.setPoints(this.points);
    this.sheet.draw(this.sorted());
  }

  /**
   * @param {Point} point
   * @param {number} index
   */
  row(point, index) {
    point.name = `Point ${index + 1}`;
    const rpm = this.field(point, "rpm", `${point.name}, speed in rpm`);
    const degrees = this.field(point, "degrees", `${point.name}, advance in ${this.axes.unit}`);
    this.fields.set(point, { rpm, degrees });
    return element(
      "div",
      { class: "cf-point-row", role: "group", "aria-label": point.name },
      element("span", { class: "cf-point-name", "aria-hidden": "true" }, String(index + 1)),
      rpm,
      element("span", { class: "cf-unit" }, "rpm"),
      degrees,
      element("span", { class: "cf-unit" }, this.axes.unit),
      pushButton("×", () => this.removePoint(point), {
        class: "cf-remove",
        "aria-label": `Remove ${point.name.toLowerCase()}`,
        "aria-disabled": String(this.points.length <= this.axes.fewest_points),
      }),
    );
  }

  /**
   * @param {Point} point
   * @param {Quantity} quantity
   * @param {string} label
   */
  field(point, quantity, label) {
    return element("input", {
      ...HANDS_OFF,
      id: freshId("cf-point"),
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      class: "cf-point-field",
      "aria-label": label,
      value: String(point[quantity]),
      on: {
        change: (event) => this.written(point, quantity, event.currentTarget),
        keydown: (event) => onEnter(event, () => this.enter(point, quantity, event.currentTarget)),
      },
    });
  }

  /**
   * @param {Point} point
   * @param {Quantity} quantity
   * @param {HTMLInputElement} field
   */
  enter(point, quantity, field) {
    this.written(point, quantity, field);
    this.send();
  }

  /**
   * @param {Point} point
   * @param {Quantity} quantity
   * @param {HTMLInputElement} field
   */
  written(point, quantity, field) {
    const number = Number(field.value.trim().replace(",", ".").replace("\u2212", "-"));
    const [low, high] = this.axes[quantity];
    const fits = field.value.trim() !== "" && number >= low && number <= high;
    field.setAttribute("aria-invalid", String(!fits));
    if (!fits) {
      setText(this.heard, `A number from ${low} to ${high} is wanted here.`);
      return;
    }
    point[quantity] = number;
    this.sheet.draw(this.sorted());
  }

  // A handle stays between its neighbours, so that the points keep their order.
  /**
   * @param {Point} point
   * @param {number} rpm
   * @param {number} degrees
   */
  place(point, rpm, degrees) {
    const { axes } = this,
      order = this.sorted(),
      index = order.indexOf(point);
    const lowest = index > 0 ? order[index - 1].rpm + axes.rpm_step : axes.rpm[0];
    const highest = index < order.length - 1 ? order[index + 1].rpm - axes.rpm_step : axes.rpm[1];
    point.rpm = within(inSteps(rpm, axes.rpm_step), lowest, Math.max(lowest, highest));
    point.degrees = within(inSteps(degrees, axes.degrees_step), ...axes.degrees);
    const fields = this.fieldsOf(point);
    fields.rpm.value = String(point.rpm);
    fields.degrees.value = String(point.degrees);
    for (const field of Object.values(fields)) field.removeAttribute("aria-invalid");
    this.sheet.draw(this.sorted());
  }

  addPoint() {
    if (this.points.length >= this.axes.most_points) {
      setText(this.heard, `There may be ${this.axes.most_points} points.`);
      return;
    }
    const point = this.inTheWidestGap();
    this.points.push(point);
    this.rebuild();
    this.fieldsOf(point).rpm.focus();
    setText(this.heard, `${point.name} added at ${point.rpm} rpm, ${point.degrees} ${this.axes.unit}.`);
  }

  inTheWidestGap() {
    const order = this.sorted();
    const gaps = order.slice(1).map((later, index) => later.rpm - order[index].rpm);
    const index = gaps.indexOf(Math.max(...gaps));
    const halfway = (/** @type {Quantity} */ quantity, /** @type {number} */ step) =>
      inSteps((order[index][quantity] + order[index + 1][quantity]) / 2, step);
    const { rpm_step, degrees_step } = this.axes;
    return { name: "", rpm: halfway("rpm", rpm_step), degrees: halfway("degrees", degrees_step) };
  }

  /** @param {Point} point */
  removePoint(point) {
    if (this.points.length <= this.axes.fewest_points) {
      setText(this.heard, `${this.axes.fewest_points} points have to stay.`);
      return;
    }
    const name = point.name.toLowerCase();
    this.points = this.points.filter((other) => other !== point);
    this.rebuild();
    this.add.focus();
    setText(this.heard, `Removed ${name}.`);
  }
}

/**
 * @param {number} value
 * @param {number} step
 */
function inSteps(value, step) {
  return Number((Math.round(value / step) * step).toFixed(6));
}

/**
 * @param {number} value
 * @param {number} low
 * @param {number} high
 */
function within(value, low, high) {
  return Math.min(Math.max(value, low), high);
}

export default { initialize: hear, render };
