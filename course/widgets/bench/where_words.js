// Where a part stands, in words.

import { MM_PER_INCH } from "../shared/generated_units.js";

// Only what hands themselves know: where a screw or stop stands, or how far from the chalk mark made at the start.
/**
 * @param {string} name
 * @param {number} value
 */
export function whereWords(name, value) {
  if (name === "throttle") return value === 0 ? "closed" : `${Math.round(value * 100)} % open`;
  if (name === "idle_screw") return `${value.toFixed(2)} turns in from fully out`;
  if (name === "mixture_screw") return `${value.toFixed(3)} turns out from fully in`;
  if (name === "point_gap") return `${value.toFixed(2)} mm (${(value / MM_PER_INCH).toFixed(3)} in)`;
  if (name === "weights_stop") return `${value.toFixed(0)} crank degrees`;
  if (name === "crank_mark") return placeOfCrank(value);
  if (name === "centre_mark") return value ? `${placeOfCrank(value)} by the old mark` : "the old mark";
  if (Math.abs(value) < 1e-6) return "as found";
  if (name === "canister_screw")
    return `${Math.abs(value)} turns ${value > 0 ? "stiffer" : "softer"} than you found it`;
  return `${Math.abs(value).toFixed(2)}° ${value > 0 ? "clockwise" : "anticlockwise"} of where you found it`;
}

/** @param {number} deg */
function placeOfCrank(deg) {
  return deg ? `${Math.abs(deg)}° ${deg > 0 ? "before" : "after"} top centre` : "top centre";
}
