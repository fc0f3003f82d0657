// A plain side view of what hoses are put on: air cleaner, carburettor with its throttle plate, manifold, distributor
// with its vacuum unit, gauge. It is for the eye and the pointer; the lists beside it say and do the same.

import { drawing, setAttribute } from "../shared/elements.js";
import { placeOfPointer, written } from "../bench/scene/shapes.js";

/**
 * @import { Attributes, Pair } from "../types.d.ts"
 * @import { Place } from "../bench/scene/shapes.js"
 *
 * @typedef {"start" | "middle" | "end"} Anchor
 * @typedef {{ at: Place, loose: Place, leave: Place }} Begin
 * @typedef {{ at: Place, arrive: Place, second: Place, name: string[], label: [x: number, y: number, anchor: Anchor] }} Fitting
 *
 * @typedef {{ id: string, label: string, start: string }} Hose
 * @typedef {Hose & { letter: string }} HoseWithLetter
 * @typedef {Record<string, string | null>} Connections
 *
 * @typedef {object} Hands What a pointer does: take a hose up, put the one in hand on a fitting, drag an end there.
 * @property {(hose: string) => void} take
 * @property {(port: string) => void} choose
 * @property {(hose: string, port: string | null) => void} put
 */

// 400 wide at every size, so that its letters stay above 12 pixels on a narrow page.
const BOX = "0 0 400 400";
const SLACK = 230; // length of a hose beyond which it hangs straight
const HANGS = 0.55; // how far it sags for each unit that it is too long
const NEAR = 30; // within which an end finds a fitting
const MOVED = 5; // pixels from which a press is a drag

// Where a hose begins, where its loose end hangs, and which way it leaves.
/** @type {Record<string, Begin>} */
const BEGIN = {
  gauge: { at: [50, 132], loose: [22, 212], leave: [0, 40] },
  canister: { at: [290, 262], loose: [231, 281], leave: [-34, 0] },
  booster: { at: [100, 326], loose: [146, 281], leave: [40, 0] },
};
// Where a hose ends, which way it arrives, where a second one on the same fitting goes, and where the name stands.
/** @type {Record<string, Fitting>} */
const FITTING = {
  manifold: { at: [108, 166], arrive: [0, -40], second: [-42, 0], name: [], label: [0, 0, "start"] },
  second_manifold: {
    at: [266, 166],
    arrive: [10, -34],
    second: [50, 0],
    name: ["second", "fitting"],
    label: [286, 138, "start"],
  },
  ported: {
    at: [254, 108],
    arrive: [46, 0],
    second: [50, 0],
    name: ["above the", "throttle plate"],
    label: [270, 70, "start"],
  },
  air_cleaner: { at: [284, 34], arrive: [46, 0], second: [50, 0], name: [], label: [0, 0, "start"] },
  canister: { at: [290, 262], arrive: [-34, 0], second: [-50, 0], name: [], label: [0, 0, "start"] },
  plug: { at: [190, 340], arrive: [0, -44], second: [0, -50], name: ["plug"], label: [190, 390, "middle"] },
  open: {
    at: [270, 340],
    arrive: [0, -44],
    second: [0, -50],
    name: ["left open"],
    label: [270, 390, "middle"],
  },
};

export class HosePicture {
  /**
   * @param {HoseWithLetter[]} hoses
   * @param {Pair[]} ports
   * @param {Hands} hands
   */
  constructor(hoses, ports, hands) {
    this.hoses = hoses;
    this.hands = hands;
    this.ports = ports.map(([port]) => port);
    this.tubes = new Map(hoses.map((hose) => [hose.id, this.tube(hose)]));
    this.ends = new Map(hoses.map((hose) => [hose.id, this.end(hose)]));
    /** @type {Connections} */
    this.connections = {};
    /** @type {string | null} */
    this.dragged = null;
    const parts = scenery(new Set([...hoses.map((hose) => hose.start), ...this.ports]));
    /** @type {SVGSVGElement} */
    this.root = drawing(
      "svg",
      { class: "cf-picture", viewBox: BOX, "aria-hidden": "true", focusable: "false" },
      ...parts.filter((part) => part.tagName !== "text"),
      ...[...this.tubes.values()].map(({ root }) => root),
      ...parts.filter((part) => part.tagName === "text"), // no hose hides a name
      ...this.ports.map((port) => fitting(port, hands.choose)),
      ...this.ends.values(),
    );
  }

  /**
   * @param {Connections} connections
   * @param {string | null} inHand
   */
  show(connections, inHand) {
    this.connections = connections;
    this.root.classList.toggle("cf-in-hand", inHand !== null);
    /** @type {Record<string, number>} */
    const onEnd = {};
    for (const hose of this.hoses) {
      const port = connections[hose.id];
      const rank = port ? (onEnd[port] = (onEnd[port] ?? -1) + 1) : 0;
      setAttribute(this.tubeOf(hose).root, "data-held", String(hose.id === inHand));
      if (hose.id !== this.dragged) this.lay(hose, port, rank);
    }
  }

  /** @param {HoseWithLetter} hose */
  tubeOf(hose) {
    return /** @type {ReturnType<HosePicture["tube"]>} */ (this.tubes.get(hose.id));
  }

  // A hose to its fitting, or loose; a second one on the same fitting goes to a tee beside it.
  /**
   * @param {HoseWithLetter} hose
   * @param {string | null} port
   * @param {number} rank
   */
  lay(hose, port, rank) {
    const { tee } = this.tubeOf(hose);
    const on = port ? FITTING[port] : null;
    const [x, y] = on ? on.at : BEGIN[hose.start].loose;
    const [dx, dy] = on ? on.second : [0, 0];
    setAttribute(tee, "d", rank ? `M ${x} ${y} l ${dx * rank} ${dy * rank}` : "");
    this.layTo(hose, [x + dx * rank, y + dy * rank], on ? on.arrive : [0, -20]);
  }

  // The end at a place; what is too long of the hose hangs.
  /**
   * @param {HoseWithLetter} hose
   * @param {Place} end
   * @param {Place} arrive
   */
  layTo(hose, end, arrive) {
    const { at, leave } = BEGIN[hose.start];
    const sag = Math.max(0, SLACK - Math.hypot(end[0] - at[0], end[1] - at[1])) * HANGS;
    const first = /** @type {Place} */ ([at[0] + leave[0], at[1] + leave[1] + sag]);
    const second = /** @type {Place} */ ([end[0] + arrive[0], end[1] + arrive[1] + sag]);
    for (const path of this.tubeOf(hose).paths)
      setAttribute(path, "d", `M ${written(at)} C ${written(first)} ${written(second)} ${written(end)}`);
    const grip = /** @type {SVGElement} */ (this.ends.get(hose.id));
    setAttribute(grip, "transform", `translate(${written(end)})`);
  }

  /** @param {HoseWithLetter} hose */
  tube({ id, letter }) {
    const paths = ["edge", "line", "shine"].map((layer) => drawing("path", { class: `cf-tube-${layer}` }));
    const tee = drawing("path", { class: "cf-tee" });
    const root = drawing("g", { class: `cf-tube cf-tube-${letter}`, "data-tube": id }, tee, ...paths);
    return { root, paths, tee };
  }

  // The end of a hose: it is dragged to a fitting, or taken up by a press and put on by another.
  /** @param {HoseWithLetter} hose */
  end(hose) {
    /** @type {{ pointer: number, from: Place } | null} */
    let held = null;
    const pressed = () => {
      const port = this.connections[hose.id];
      const another = this.root.classList.contains("cf-in-hand") && !this.isHeld(hose);
      if (another && port) this.hands.choose(port);
      else this.hands.take(hose.id);
    };
    const letGo = (/** @type {PointerEvent} */ event) => {
      if (held?.pointer !== event.pointerId) return;
      const dragged = this.dragged === hose.id;
      held = this.dragged = null;
      if (event.type !== "pointerup") this.hands.put(hose.id, this.connections[hose.id]);
      else if (dragged) this.hands.put(hose.id, this.portAt(placeOfPointer(this.root, event)));
      else pressed();
    };
    const grip = drawing(
      "g",
      {
        class: `cf-badge cf-tube-${hose.letter}`,
        "data-hose": hose.id,
        on: {
          // The style touch-action is not heeded within a drawing: a finger would scroll the page.
          touchstart: (event) => event.preventDefault(),
          pointerdown: (event) => {
            if (event.button !== 0 || held) return;
            event.preventDefault();
            grip.setPointerCapture(event.pointerId);
            held = { pointer: event.pointerId, from: [event.clientX, event.clientY] };
          },
          pointermove: (event) => {
            if (held?.pointer !== event.pointerId) return;
            const [x, y] = held.from;
            if (Math.hypot(event.clientX - x, event.clientY - y) > MOVED) this.dragged = hose.id;
            if (this.dragged === hose.id) this.dragTo(hose, placeOfPointer(this.root, event));
          },
          pointerup: letGo,
          pointercancel: letGo,
        },
      },
      drawing("circle", { class: "cf-badge-reach", r: 24 }),
      drawing("circle", { class: "cf-badge-disc", r: 13 }),
      drawing("text", { "text-anchor": "middle", dy: "0.35em" }, hose.letter),
    );
    return grip;
  }

  /** @param {HoseWithLetter} hose */
  isHeld(hose) {
    return this.tubeOf(hose).root.getAttribute("data-held") === "true";
  }

  /**
   * @param {HoseWithLetter} hose
   * @param {Place} at
   */
  dragTo(hose, at) {
    setAttribute(this.tubeOf(hose).tee, "d", "");
    this.layTo(hose, at, [0, -20]);
  }

  // The fitting that a hose finds where it is let go; none where it hangs free.
  /** @param {Place} at */
  portAt([x, y]) {
    const away = (/** @type {string} */ port) => Math.hypot(FITTING[port].at[0] - x, FITTING[port].at[1] - y);
    const nearest = [...this.ports].sort((one, other) => away(one) - away(other))[0];
    return nearest !== undefined && away(nearest) < NEAR ? nearest : null;
  }
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
    ...named(name, x, y, anchor),
  );
}

/**
 * @param {string[]} lines
 * @param {number} x
 * @param {number} y
 * @param {Anchor} anchor
 */
function named(lines, x, y, anchor = "middle", kind = "cf-fitting-name") {
  return lines.map((line, index) =>
    drawing("text", { class: kind, x, y: y + 18.5 * index, "text-anchor": anchor }, line),
  );
}

// What stands around; `used` are the beginnings of hoses and the fittings that the exercise has.
/** @param {Set<string>} used */
function scenery(used) {
  /** @type {(tag: "circle" | "path" | "rect", attributes: Attributes<SVGElement>) => SVGElement} */
  const part = (tag, attributes) => drawing(tag, { class: "cf-part", ...attributes });
  /** @type {(lines: string[], x: number, y: number) => SVGElement[]} */
  const say = (lines, x, y) => named(lines, x, y, "middle", "cf-part-name");
  const drawn = [
    part("rect", { x: 122, y: 10, width: 150, height: 46, rx: 14 }),
    ...say(["air cleaner"], 194, 38),
    part("rect", { x: 148, y: 56, width: 92, height: 124 }),
    ...say(["carburettor"], 194, 78),
    drawing("path", { class: "cf-plate", d: "M 152 132 L 236 122" }),
    part("circle", { cx: 194, cy: 127, r: 4 }),
    ...say(["throttle", "plate"], 194, 150),
    part("rect", { x: 78, y: 180, width: 214, height: 48, rx: 16 }),
    ...say(["intake manifold"], 185, 209),
    part("path", { d: "M 332 206 v -14 h 46 v 14" }),
    part("path", { d: "M 320 206 h 70 v 26 h -14 v 78 h -42 v -78 h -14 z" }),
    part("path", { d: "M 316 262 h 18" }),
    part("rect", { x: 290, y: 240, width: 26, height: 44, rx: 10 }),
    ...say(["distributor"], 354, 184),
    drawing("path", { class: "cf-leader", d: "M 322 322 L 306 288" }),
    ...named(["vacuum unit"], 394, 334, "end", "cf-part-name"),
  ];
  if (used.has("air_cleaner")) drawn.push(part("path", { d: "M 272 30 h 12 v 8 h -12 z" }));
  if (used.has("ported")) drawn.push(part("path", { d: "M 240 104 h 14 v 8 h -14 z" }));
  if (used.has("manifold")) drawn.push(part("path", { d: "M 104 180 v -14 h 8 v 14 z" }));
  if (used.has("second_manifold")) drawn.push(part("path", { d: "M 262 180 v -14 h 8 v 14 z" }));
  if (used.has("plug")) drawn.push(part("path", { d: "M 177 346 h 26 v 20 h -26 z" }));
  if (used.has("open")) drawn.push(drawing("path", { class: "cf-open", d: "M 250 366 h 40" }));
  if (used.has("gauge")) {
    drawn.push(
      part("circle", { cx: 50, cy: 84, r: 42 }),
      part("path", { d: "M 46 126 h 8 v 8 h -8 z" }),
      part("path", { class: "cf-part cf-scale-arc", d: "M 26 106 A 33 33 0 1 1 74 106" }),
      part("path", { d: "M 50 84 L 30 68" }),
      part("circle", { cx: 50, cy: 84, r: 4 }),
      ...say(["vacuum gauge"], 59, 26),
    );
  }
  if (used.has("booster")) {
    drawn.push(
      part("rect", { x: 14, y: 296, width: 86, height: 60, rx: 24 }),
      ...say(["brake", "booster"], 56, 322),
    );
  }
  return drawn;
}
