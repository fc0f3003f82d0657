// The rim of the crank's pulley with its mark, under a fixed scale of degrees before and after top centre. The rim turns
// clockwise here: a mark that has not come to top centre yet stands left of it.

import { drawing, setAttribute } from "../shared/elements.js";

const CENTRE_Y = 60;
const RIM = 112;
const SCALE = 124;
const TURN_AT_TOP_CENTRE = 26; // degrees of the drawing, clockwise of straight up
const TURN_PER_DEGREE = 1.1; // wider than true, so that single degrees can be told apart
const FIRST = -10;
const LAST = 60;

export class PulleyPicture {
  constructor() {
    this.mark = drawing("path", {
      class: "eb-mark",
      d: `M 0 ${-RIM + 9} L -3 ${-SCALE + 2} L 3 ${-SCALE + 2} Z`,
    });
    this.spread = drawing("path", { class: "eb-mark-spread" });
    this.root = drawing(
      "svg",
      { class: "eb-pulley", viewBox: "-104 -100 208 78", "aria-hidden": "true", focusable: "false" },
      drawing(
        "g",
        { transform: `translate(0 ${CENTRE_Y})` },
        drawing("path", { class: "eb-rim", d: arcBetween(RIM, LAST + 4, FIRST - 4) }),
        this.spread,
        ...ticks(),
        this.mark,
      ),
    );
    this.show(null);
  }

  // Where the mark seems to stand [degrees before top centre], and the range it wandered over; null where none is seen.
  /**
   * @param {number | null} deg
   * @param {number | null} low
   * @param {number | null} high
   */
  show(deg, low = deg, high = deg) {
    const seen = deg === null ? "hidden" : "visible";
    setAttribute(this.mark, "visibility", seen);
    setAttribute(this.spread, "visibility", seen);
    if (deg === null || low === null || high === null) return;
    setAttribute(this.mark, "transform", `rotate(${markTurn(deg).toFixed(2)})`);
    setAttribute(this.spread, "d", arcBetween(SCALE - 5, high, low));
  }
}

// Where a place of the crank [degrees before top centre] is drawn [degrees clockwise of straight up].
/** @param {number} deg */
export function markTurn(deg) {
  return TURN_AT_TOP_CENTRE - TURN_PER_DEGREE * Math.min(Math.max(deg, FIRST - 3), LAST + 3);
}

function ticks() {
  const lines = [];
  for (let deg = FIRST; deg <= LAST; deg += 2) {
    const numbered = deg % 10 === 0;
    const turn = markTurn(deg);
    lines.push(
      drawing("line", {
        class: numbered ? "eb-tick-major" : "eb-tick",
        y1: -SCALE,
        y2: -SCALE - (numbered ? 9 : 5),
        transform: `rotate(${turn.toFixed(2)})`,
      }),
    );
    if (numbered) lines.push(number(deg, turn));
  }
  return lines;
}

/**
 * @param {number} deg
 * @param {number} turn
 */
function number(deg, turn) {
  const radians = (turn * Math.PI) / 180;
  const radius = SCALE + 19;
  return drawing(
    "text",
    { x: radius * Math.sin(radians), y: -radius * Math.cos(radians), "text-anchor": "middle" },
    String(Math.abs(deg)),
  );
}

/**
 * @param {number} radius
 * @param {number} from
 * @param {number} to
 */
function arcBetween(radius, from, to) {
  const point = (/** @type {number} */ deg) => {
    const turn = (markTurn(deg) * Math.PI) / 180;
    return `${(radius * Math.sin(turn)).toFixed(2)} ${(-radius * Math.cos(turn)).toFixed(2)}`;
  };
  return `M ${point(from)} A ${radius} ${radius} 0 0 1 ${point(to)}`;
}
