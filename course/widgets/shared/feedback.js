// What the judge said about one exercise: every criterion with its outcome in words, its points and its sentence;
// `summed` puts the sum above, where no sentence says it already.

import { element } from "./elements.js";

/** @import { Criterion, Result } from "../types.d.ts" */

const NOT_JUDGED = "could not be judged";
const SIGNS = { met: "✓", "not yet": "○", missing: "–", [NOT_JUDGED]: "?" };

/**
 * @param {Result} result
 * @param {boolean} summed
 */
export function feedback(result, summed) {
  const rows = result.criteria.map((criterion) =>
    element(
      "li",
      {
        class: "cf-criterion",
        "data-outcome": criterion.outcome,
        "data-remark": remarks(criterion) ? "" : null,
      },
      element("span", { class: "cf-sign", "aria-hidden": "true" }, SIGNS[criterion.outcome] ?? "?"),
      element(
        "div",
        { class: "cf-what" },
        element(
          "div",
          {},
          element("span", { class: "cf-title" }, criterion.title),
          // A remark earns nothing by itself: its sign and its sentence say all there is.
          ...(remarks(criterion) ? [] : [": ", element("span", { class: "cf-outcome" }, criterion.outcome)]),
        ),
        criterion.sentence ? element("div", { class: "cf-sentence" }, criterion.sentence) : null,
      ),
      remarks(criterion)
        ? null
        : element("span", { class: "cf-points" }, `${earned(criterion)} of ${shown(criterion.max_points)}`),
    ),
  );
  const person = result.needs_person ? element("p", { class: "cf-person" }, result.needs_person) : null;
  return [
    summed
      ? element("p", { class: "cf-sum" }, `${shown(result.points)} of ${points(result.max_points)}`)
      : null,
    person,
    rows.length ? element("ul", { class: "cf-criteria" }, ...rows) : null,
  ].filter((part) => part !== null);
}

/** @param {Criterion} criterion */
function remarks(criterion) {
  return criterion.max_points === 0;
}

// A dash: nobody scored a nought where nothing was judged.
/** @param {Criterion} criterion */
function earned(criterion) {
  return criterion.outcome === NOT_JUDGED ? "–" : shown(criterion.points);
}

/** @param {number} count */
export function points(count) {
  return `${shown(count)} ${count === 1 ? "point" : "points"}`;
}

/** @param {number} count */
function shown(count) {
  return String(Math.round(count * 100) / 100);
}
