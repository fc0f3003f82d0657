// What the judge said about one exercise: every criterion of the latest try with its outcome in words, its points and
// its sentence; and those of the best try behind a line, where that earned more.

import { element } from "./elements.js";

/** @import { Criterion, Result } from "../types.d.ts" */

const NOT_JUDGED = "could not be judged";
const SIGNS = { met: "✓", "not yet": "○", missing: "–", [NOT_JUDGED]: "?" };

/** @param {Result} result */
export function feedback({ criteria, needs_person: reason, max_points: most, best }) {
  const person = reason ? element("p", { class: "cf-person" }, reason) : null;
  const earlier = best
    ? element(
        "details",
        { class: "cf-best" },
        element(
          "summary",
          { "data-lm-suppress-shortcuts": "true" },
          `Your best try counts: ${shown(best.points)} of ${points(most)}`,
        ),
        list(best.criteria),
      )
    : null;
  return [person, criteria.length ? list(criteria) : null, earlier].filter((part) => part !== null);
}

/** @param {Criterion[]} criteria */
function list(criteria) {
  const rows = criteria.map((criterion) =>
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
  return element("ul", { class: "cf-criteria" }, ...rows);
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
