// What the tools of an exercise show: a tile for each that is offered, its words and, where one helps, its drawing.

import { drawing, element, setAttribute, setText } from "../shared/elements.js";
import { PulleyPicture } from "./pulley_picture.js";

/**
 * @import { Group } from "../types.d.ts"
 *
 * @typedef {{ words: string, short?: string, value?: number, low?: number, high?: number }} Reading
 * @typedef {Record<string, Reading | undefined>} ToolReadings
 * @typedef {{ root: Element, show(value: number | null, low?: number, high?: number): void }} TilePicture
 */

// The tools that show something, each with its drawing where one helps; what they show is named by the control.
/** @type {Record<string, (() => TilePicture) | null>} */
const TILES = {
  timing_light: () => new PulleyPicture(),
  dwell_meter: null,
  test_lamp: () => new LampPicture(),
  load_brake: null,
  crank_mark: () => new PulleyPicture(),
  piston_stop: null,
  fuel_meter: null,
  exhaust_probe: null,
};

// The tiles of the tools among the groups of controls; `update(tools)` shows what they read.
/** @param {Group[]} work */
export function toolTiles(work) {
  const offered = new Map(work.flatMap(({ controls }) => controls.map(({ name, shows }) => [name, shows])));
  const tiles = Object.entries(TILES)
    .filter(([name]) => offered.has(name))
    .map(([name, picture]) => new Tile(name, offered.get(name) ?? "", picture));
  return {
    root: tiles.length ? element("div", { class: "eb-tools" }, ...tiles.map((tile) => tile.root)) : null,
    update: (/** @type {ToolReadings} */ tools) => {
      for (const tile of tiles) tile.show(tools[tile.tool]);
    },
  };
}

// The same in a few words, for the line that stays in sight on a narrow page.
/** @param {ToolReadings} tools */
export function toolsInShort(tools) {
  return Object.keys(TILES).flatMap((name) => tools[name]?.short || []);
}

class Tile {
  /**
   * @param {string} tool
   * @param {string} shows
   * @param {(() => TilePicture) | null} picture
   */
  constructor(tool, shows, picture) {
    this.tool = tool;
    this.picture = picture?.() ?? null;
    this.words = element("span", { class: "eb-tool-words" });
    this.root = element(
      "div",
      { class: "eb-tool", "data-tool": tool },
      element("span", { class: "eb-tool-name" }, `${shows[0].toUpperCase()}${shows.slice(1)}`),
      this.picture?.root,
      this.words,
    );
  }

  /** @param {Reading | undefined} reading */
  show(reading) {
    if (!reading) return;
    setText(this.words, reading.words);
    this.root.classList.toggle("eb-tool-idle", reading.value === undefined);
    this.picture?.show(reading.value ?? null, reading.low, reading.high);
  }
}

// A bulb: with rays where it is lit, crossed out where it is dark.
class LampPicture {
  constructor() {
    const rays = [0, 45, 90, 135, 180, 225, 270, 315].map((turn) =>
      drawing("line", { y1: -15, y2: -20, transform: `rotate(${turn})` }),
    );
    this.rays = drawing("g", { class: "eb-lamp-rays", visibility: "hidden" }, ...rays);
    this.cross = drawing("path", {
      class: "eb-lamp-cross",
      d: "M -7 -7 L 7 7 M 7 -7 L -7 7",
      visibility: "hidden",
    });
    this.bulb = drawing("circle", { class: "eb-lamp-bulb", r: 11 });
    this.root = drawing(
      "svg",
      { class: "eb-lamp", viewBox: "-22 -22 44 44", "aria-hidden": "true", focusable: "false" },
      this.bulb,
      this.rays,
      this.cross,
    );
  }

  /** @param {number | null} lit */
  show(lit) {
    setAttribute(this.rays, "visibility", lit ? "visible" : "hidden");
    setAttribute(this.cross, "visibility", lit === 0 ? "visible" : "hidden");
    this.bulb.classList.toggle("eb-lit", Boolean(lit));
  }
}
