// What became of a recorded curve on the full pull: where it pings, hatched on the curve, and below it the torque lost.

import { drawing, element, freshId, setText } from "../shared/elements.js";

/**
 * @import { OrEmpty } from "../types.d.ts"
 *
 * @typedef {object} Pull By speed.
 * @property {number[]} rpm
 * @property {number[]} degrees
 * @property {boolean[]} pings
 * @property {number[]} lost_percent
 *
 * @typedef {object} Scales Where the sheet has a speed and an advance.
 * @property {(rpm: number) => number} across
 * @property {(degrees: number) => number} down
 * @property {[number, number]} edges
 */

const STRIP = { width: 640, height: 136, top: 30, bottom: 106 };
const LEAST_TOP_PERCENT = 5; // so that small losses look small
const TENTHS_SHOWN = 0.1; // per cent from which a loss is told

export class CurvePull {
  /** @param {Scales} scales */
  constructor(scales) {
    this.scales = scales;
    const hatch = freshId("cf-hatch");
    // On the sheet, below the handles of the curve that is being drawn.
    this.line = drawing("path", { class: "cf-recorded" });
    this.hatched = drawing("path", { class: "cf-pings" });
    this.hatched.style.stroke = `url(#${hatch})`;
    this.onSheet = drawing("g", {}, hatching(hatch), this.hatched, this.line);
    this.bars = drawing("g");
    this.words = element("p", { class: "cf-pull-words" });
    this.strip = drawing(
      "svg",
      {
        class: "cf-lost",
        viewBox: `0 0 ${STRIP.width} ${STRIP.height}`,
        "aria-hidden": "true",
        focusable: "false",
      },
      drawing("text", { class: "cf-scale", x: scales.edges[0], y: 20 }, "torque lost, % (× pings)"),
      drawing("path", {
        class: "cf-grid",
        d: `M ${scales.edges[0]} ${STRIP.bottom} H ${scales.edges[1]}`,
      }),
      this.bars,
    );
    this.root = element("div", { class: "cf-pull", hidden: true }, this.strip, this.words);
  }

  /** @param {OrEmpty<Pull>} pull */
  show(pull) {
    this.root.hidden = !pull.rpm?.length;
    this.onSheet.toggleAttribute("hidden", this.root.hidden);
    if (!pull.rpm?.length) return;
    const { across, down } = this.scales;
    const step = pull.rpm[1] - pull.rpm[0];
    const places = pull.rpm.map(
      (rpm, index) => `${across(rpm).toFixed(1)} ${down(pull.degrees[index]).toFixed(1)}`,
    );
    this.line.setAttribute("d", `M ${places.join(" L ")}`);
    this.hatched.setAttribute(
      "d",
      stretches(pull.pings)
        .map(([from, to]) =>
          from === to ? `M ${places[from]} h 1` : `M ${places.slice(from, to + 1).join(" L ")}`,
        )
        .join(" "),
    );
    this.bars.replaceChildren(...this.lost(pull, across(step) - across(0)));
    setText(this.words, pullInWords(pull));
  }

  /**
   * @param {Pull} pull
   * @param {number} width
   */
  lost(pull, width) {
    const most = Math.max(LEAST_TOP_PERCENT, ...pull.lost_percent);
    const worst = pull.lost_percent.indexOf(Math.max(...pull.lost_percent));
    const { across } = this.scales;
    return pull.rpm.flatMap((rpm, index) => {
      const lost = pull.lost_percent[index];
      const height = (lost / most) * (STRIP.bottom - STRIP.top);
      const x = across(rpm);
      return [
        pull.pings[index]
          ? drawing(
              "text",
              { class: "cf-scale cf-ping-sign", x, y: STRIP.bottom - 4, "text-anchor": "middle" },
              "×",
            )
          : drawing("rect", {
              class: "cf-lost-bar",
              x: x - 0.4 * width,
              y: STRIP.bottom - height,
              width: 0.8 * width,
              height,
            }),
        ...(index === worst && lost >= TENTHS_SHOWN
          ? [
              drawing(
                "text",
                { class: "cf-scale", x, y: STRIP.bottom + 22, "text-anchor": "middle" },
                `${lost} %`,
              ),
            ]
          : []),
      ];
    });
  }
}

// Where neighbours are true, as pairs of the first and the last place.
/** @param {boolean[]} flags */
export function stretches(flags) {
  /** @type {[number, number][]} */
  const found = [];
  flags.forEach((flag, place) => {
    const latest = found.at(-1);
    if (flag && latest?.[1] === place - 1) latest[1] = place;
    else if (flag) found.push([place, place]);
  });
  return found;
}

// The picture in words.
/** @param {Pull} pull */
export function pullInWords({ rpm, pings, lost_percent: lost }) {
  const where = stretches(pings).map(([from, to]) =>
    from === to ? `at ${rpm[from]} rpm` : `from ${rpm[from]} to ${rpm[to]} rpm`,
  );
  const most = Math.max(...lost);
  const pinging = where.length
    ? `As recorded it pings ${where.join(" and ")} (hatched).`
    : "As recorded it does not ping.";
  const losing =
    most < TENTHS_SHOWN
      ? "Where it is silent it loses no torque."
      : `It loses most torque at ${rpm[lost.indexOf(most)]} rpm: ${most} % of what it could give without ping.`;
  return `${pinging} ${losing}`;
}

/** @param {string} id */
function hatching(id) {
  const lines = drawing(
    "pattern",
    { id, width: 7, height: 7 },
    drawing("path", { class: "cf-hatch", d: "M 0 7 L 7 0" }),
  );
  lines.setAttribute("patternUnits", "userSpaceOnUse");
  return drawing("defs", {}, lines);
}
