// A plain side view of what hoses are put on: air cleaner, carburettor with its throttle plate, manifold, distributor
// with its canister, gauge. It is for the eye and the pointer; the lists beside it say and do the same.

import { drawing } from "../shared/elements.js";

/**
 * @import { Attributes, Pair } from "../types.d.ts"
 *
 * @typedef {[x: number, y: number]} Point
 * @typedef {"start" | "middle" | "end"} Anchor
 * @typedef {{ at: Point, loose: Point, leave: Point }} Begin
 * @typedef {{ at: Point, arrive: Point, name: string[], label: [x: number, y: number, anchor: Anchor] }} Fitting
 *
 * @typedef {{ id: string, label: string, start: string }} Hose
 * @typedef {Hose & { letter: string }} HoseWithLetter
 * @typedef {Record<string, string | null>} Connections
 */

// Where a hose begins, where it hangs while it is loose, and which way it leaves.
/** @type {Record<string, Begin>} */
const BEGIN = {
  gauge: { at: [74, 152], loose: [96, 218], leave: [0, 60] },
  canister: { at: [540, 132], loose: [516, 226], leave: [-50, 0] },
  booster: { at: [112, 312], loose: [176, 300], leave: [50, 0] },
};
// Where a hose ends, which way it arrives, and where the name stands.
/** @type {Record<string, Fitting>} */
const FITTING = {
  manifold: { at: [196, 190], arrive: [0, -46], name: ["manifold"], label: [184, 178, "end"] },
  second_manifold: {
    at: [424, 190],
    arrive: [0, -46],
    name: ["second", "fitting"],
    label: [438, 176, "start"],
  },
  ported: { at: [398, 138], arrive: [64, 96], name: ["above throttle", "plate"], label: [404, 112, "start"] },
  air_cleaner: { at: [458, 54], arrive: [50, 0], name: ["air cleaner"], label: [470, 40, "start"] },
  canister: { at: [540, 132], arrive: [-50, 0], name: ["canister"], label: [536, 112, "end"] },
  plug: { at: [424, 322], arrive: [0, -54], name: ["plug"], label: [424, 362, "middle"] },
  open: { at: [520, 322], arrive: [0, -54], name: ["left open"], label: [520, 362, "middle"] },
};

export class HosePicture {
  // `take(hose)` and `choose(port)` are called when the pointer does so.
  /**
   * @param {HoseWithLetter[]} hoses
   * @param {Pair[]} ports
   * @param {{ take: (hose: string) => void, choose: (port: string) => void }} hands
   */
  constructor(hoses, ports, { take, choose }) {
    this.hoses = hoses;
    this.tubes = drawing("g");
    this.take = take;
    this.root = drawing(
      "svg",
      { class: "cf-picture", viewBox: "0 0 660 380", "aria-hidden": "true", focusable: "false" },
      ...scenery(new Set([...hoses.map((hose) => hose.start), ...ports.map(([port]) => port)])),
      this.tubes,
      ...ports.map(([port]) => fitting(port, choose)),
    );
  }

  /**
   * @param {Connections} connections
   * @param {string | null} inHand
   */
  show(connections, inHand) {
    /** @type {Record<string, number>} */
    const onEnd = {};
    this.tubes.replaceChildren(
      ...this.hoses.map((hose) => {
        const port = connections[hose.id];
        const rank = port ? (onEnd[port] = (onEnd[port] ?? -1) + 1) : 0;
        return this.tube(hose, port, rank, hose.id === inHand);
      }),
    );
  }

  /**
   * @param {HoseWithLetter} hose
   * @param {string | null} port
   * @param {number} rank
   * @param {boolean} held
   */
  tube(hose, port, rank, held) {
    const begin = BEGIN[hose.start];
    const [x, y] = port ? FITTING[port].at : begin.loose;
    /** @type {Point} */
    const end = [x + 22 * rank, y];
    const path = `M ${begin.at} C ${plus(begin.at, begin.leave)} ${plus(end, port ? FITTING[port].arrive : [0, -30])} ${end}`;
    return drawing(
      "g",
      {
        class: `cf-tube cf-tube-${hose.letter}`,
        "data-hose": hose.id,
        "data-held": String(held),
        on: { click: () => this.take(hose.id) },
      },
      drawing("path", { class: "cf-tube-reach", d: path }),
      drawing("path", { class: "cf-tube-edge", d: path }),
      drawing("path", { class: "cf-tube-line", d: path }),
      badge(hose.letter, port ? middle(begin, end, port) : end),
    );
  }
}

/**
 * @param {Point} start
 * @param {Point} by
 * @returns {Point}
 */
function plus([x, y], [across, down]) {
  return [x + across, y + down];
}

// The middle of the curve, so that the letter of a hose stands on it.
/**
 * @param {Begin} begin
 * @param {Point} end
 * @param {string} port
 * @returns {Point}
 */
function middle(begin, end, port) {
  const [first, second] = [plus(begin.at, begin.leave), plus(end, FITTING[port].arrive)];
  const along = (/** @type {0 | 1} */ axis) =>
    (begin.at[axis] + 3 * first[axis] + 3 * second[axis] + end[axis]) / 8;
  return [along(0), along(1)];
}

/**
 * @param {string} letter
 * @param {Point} place
 */
function badge(letter, [x, y]) {
  return drawing(
    "g",
    { class: "cf-badge", transform: `translate(${x} ${y})` },
    drawing("circle", { r: 12 }),
    drawing("text", { "text-anchor": "middle", dy: "0.35em" }, letter),
  );
}

/**
 * @param {string} port
 * @param {(port: string) => void} choose
 */
function fitting(port, choose) {
  const { at, name, label } = FITTING[port];
  const [x, y, anchor] = label;
  return drawing(
    "g",
    { class: "cf-fitting", "data-port": port, on: { click: () => choose(port) } },
    drawing("circle", { class: "cf-fitting-reach", cx: at[0], cy: at[1], r: 24 }),
    drawing("circle", { class: "cf-fitting-ring", cx: at[0], cy: at[1], r: 8 }),
    ...written(name, x, y, anchor),
  );
}

/**
 * @param {string[]} lines
 * @param {number} x
 * @param {number} y
 * @param {Anchor} anchor
 */
function written(lines, x, y, anchor = "middle", kind = "cf-fitting-name") {
  return lines.map((line, index) =>
    drawing("text", { class: kind, x, y: y + 17 * index, "text-anchor": anchor }, line),
  );
}

// What stands around; `used` are the beginnings of hoses and the fittings that the exercise has.
/** @param {Set<string>} used */
function scenery(used) {
  /** @type {(tag: "circle" | "path" | "rect", attributes: Attributes<SVGElement>) => SVGElement} */
  const part = (tag, attributes) => drawing(tag, { class: "cf-part", ...attributes });
  /** @type {(text: string, x: number, y: number) => SVGElement} */
  const say = (text, x, y) => written([text], x, y, "middle", "cf-part-name")[0];
  const drawn = [
    part("rect", { x: 214, y: 30, width: 228, height: 48, rx: 16 }),
    say("air cleaner", 328, 59),
    part("path", { d: "M 442 54 h 14" }),
    part("rect", { x: 280, y: 78, width: 96, height: 128 }),
    say("carburettor", 328, 98),
    drawing("path", { class: "cf-plate", d: "M 284 162 L 372 152" }),
    part("circle", { cx: 328, cy: 157, r: 4 }),
    say("throttle plate", 328, 190),
    part("path", { d: "M 376 138 h 16" }),
    part("rect", { x: 150, y: 206, width: 322, height: 50, rx: 18 }),
    say("intake manifold", 328, 237),
    part("path", { d: "M 546 172 h 84 v 26 h -18 v 58 h -48 v -58 h -18 z" }),
    part("path", { d: "M 560 172 v -14 h 56 v 14" }),
    say("distributor", 588, 276),
    part("rect", { x: 540, y: 112, width: 26, height: 40, rx: 10 }),
    part("path", { d: "M 566 132 h 24 v 26" }),
  ];
  if (used.has("manifold")) drawn.push(part("path", { d: "M 196 206 v -8" }));
  if (used.has("second_manifold")) drawn.push(part("path", { d: "M 424 206 v -8" }));
  if (used.has("plug")) drawn.push(part("path", { d: "M 410 326 h 28 v 16 h -28 z" }));
  if (used.has("gauge")) {
    drawn.push(
      part("circle", { cx: 74, cy: 100, r: 46 }),
      part("path", { d: "M 74 146 v 6" }),
      part("path", { d: "M 42 122 A 38 38 0 1 1 106 122" }),
      part("path", { d: "M 74 100 L 50 80" }),
      part("circle", { cx: 74, cy: 100, r: 4 }),
      say("vacuum gauge", 74, 40),
    );
  }
  if (used.has("booster")) {
    drawn.push(part("rect", { x: 24, y: 284, width: 88, height: 56, rx: 24 }), say("brake booster", 68, 362));
  }
  return drawn;
}
