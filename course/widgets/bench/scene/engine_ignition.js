// The ignition on the near side of the whole engine: distributor with its leads and plugs, coil, and the tachometer.

import { drawing } from "../../shared/elements.js";
import { placeOn } from "./engine_block.js";
import { boltHead, hoseOf } from "./shapes.js";
import { dialAt, holdAt } from "./small_parts.js";

/**
 * @import { Hose, Shades } from "./shapes.js"
 */

// Its leads go to the plugs in the side of the head, each to its own.
/**
 * @param {Shades} shade
 * @param {number} cylinders
 * @param {SVGElement} rod of its vacuum unit
 */
export function distributorAtBlock(shade, cylinders, rod) {
  const { blackRound, round, brassLevel, level, metal } = shade;
  const eight = cylinders === 8;
  const count = cylinders === 4 || eight ? 4 : 6;
  const leads = [];
  for (let index = 0; index < count; index += 1) {
    const share = index / (count - 1);
    const [x, y] = placeOn(eight ? 1.1 : 1, 0.1 + 0.8 * share, 122);
    const lead = hoseOf("tension");
    lead.root.classList.add("es-thin");
    lead.lay(
      `M ${226 + 22 * share} 180 C ${216 + 44 * share} ${160 - 8 * share} ${x - 2} ${y + 34} ${x + 2} ${y + 13}`,
    );
    leads.push(
      lead.root,
      drawing(
        "g",
        { transform: `translate(${x.toFixed(1)} ${y.toFixed(1)}) rotate(-12)` },
        drawing("circle", { class: "es-hole", r: 6.5 }),
        drawing("path", { class: "es-part es-fine es-china", d: "M -3.5 -3 H 3.5 V 6 H -3.5 Z" }),
        drawing("path", {
          class: "es-cap es-fine",
          d: "M -4.5 4 H 4.5 L 3.4 16 H -3.4 Z",
          fill: blackRound,
        }),
      ),
    );
  }
  const towers = [220, 228, 237, 246, 253].map((x, index) =>
    drawing("path", {
      class: "es-cap es-fine",
      d: `M ${x - 4} ${184 - (index % 2) * 3} V ${174 - (index % 2) * 3} H ${x + 4} V ${184 - (index % 2) * 3} Z`,
      fill: blackRound,
    }),
  );
  return [
    drawing(
      "g",
      { "data-look": "distributor" },
      holdAt([238, 206]),
      // The clamp with its bolt on the block, the shaft's housing, the body, the cap.
      drawing("path", {
        class: "es-part es-fine",
        d: "M 214 228 L 260 218 Q 268 218 268 224 Q 268 230 260 231 L 216 240 Q 208 238 214 228 Z",
        fill: metal,
      }),
      drawing("g", { transform: "translate(260 224.5)" }, boltHead(3.2, metal)),
      drawing("path", { class: "es-part", d: "M 224 220 H 250 V 231 Q 237 238 224 234 Z", fill: round }),
      drawing("path", {
        class: "es-part",
        d: "M 216 196 H 258 V 214 Q 258 226 247 226 H 227 Q 216 226 216 214 Z",
        fill: round,
      }),
      rod,
      drawing("path", { class: "es-part es-fine", d: "M 262 188 H 267 V 220 H 262 Z", fill: level }),
      drawing("path", {
        class: "es-part",
        d: "M 267 189 Q 283 191 284 200 H 289 V 208 H 284 Q 283 217 267 219 Z",
        fill: brassLevel,
      }),
      ...towers,
      drawing("path", {
        class: "es-cap",
        d: "M 213 200 V 188 Q 217 179 237 179 T 261 188 V 200 Q 237 207 213 200 Z",
        fill: blackRound,
      }),
      drawing("path", { class: "es-part es-bright es-fine", d: "M 232 196 H 240 L 242 212 H 230 Z" }),
      ...leads,
    ),
  ];
}

/**
 * @param {Shades} shade
 * @param {Hose} clipWire of the tachometer
 */
export function coilAtBlock(shade, clipWire) {
  const { blackRound, round, level } = shade;
  const lead = hoseOf("tension");
  lead.root.classList.add("es-thin");
  lead.lay("M 318 160 C 314 136 258 140 240 176");
  return [
    drawing(
      "g",
      { "data-look": "terminals" },
      holdAt([322, 192]),
      lead.root,
      drawing("path", { class: "es-part", d: "M 302 178 H 334 V 216 Q 318 224 302 216 Z", fill: round }),
      drawing("path", {
        class: "es-part",
        d: "M 298 194 Q 318 202 338 194 V 203 Q 318 211 298 203 Z",
        fill: level,
      }),
      drawing("path", {
        class: "es-part es-fine es-brass",
        d: "M 304 168 H 309 V 176 H 304 Z M 327 168 H 332 V 176 H 327 Z",
      }),
      drawing("path", {
        class: "es-cap",
        d: "M 300 180 V 174 Q 302 171 311 170 L 314 158 H 322 L 325 170 Q 334 171 336 174 V 180 Q 318 187 300 180 Z",
        fill: blackRound,
      }),
      clipWire.root,
      dialAt([372, 90], -30),
    ),
  ];
}
