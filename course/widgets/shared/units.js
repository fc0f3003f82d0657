// The two systems of units, and what the learner chose; every quantity arrives in inHg, rpm and degrees Celsius.

import { FAHRENHEIT_AT_ICE_POINT, FAHRENHEIT_PER_CELSIUS, KPA_PER_INHG } from "./generated_units.js";

/**
 * @typedef {"inHg" | "kPa"} VacuumUnit
 * @typedef {"°F" | "°C"} TemperatureUnit
 * @typedef {{ vacuum: VacuumUnit, temperature: TemperatureUnit }} UnitChoice
 * @typedef {{ of: (value: number) => number, digits: number, name: string }} Quantity
 * @typedef {{ name: string, top: number, major: number, middle: number, minor: number, read: number }} Scale
 * @typedef {Quantity & Scale} OnAGauge
 *
 * @typedef {object} KnowsUnits A widget's model.
 * @property {(name: "chosen_units") => Partial<UnitChoice>} get
 * @property {(name: "chosen_units", chosen: UnitChoice) => void} set
 * @property {() => void} save_changes
 * @property {(event: "change:chosen_units", listener: () => void) => void} on
 * @property {(event: "change:chosen_units", listener: () => void) => void} off
 */

/** @type {UnitChoice} */
const USUAL_UNITS = { vacuum: "inHg", temperature: "°F" };

// On a gauge: a number at every `major`, a longer line at every `middle`, a line at every `minor`; `read` is the distance
// of lines that an eye tells apart from where it stands.
/** @type {Record<VacuumUnit, OnAGauge> & Record<TemperatureUnit, Quantity>} */
const QUANTITIES = {
  inHg: {
    of: (inhg) => inhg,
    digits: 1,
    name: "inHg",
    top: 30,
    major: 5,
    middle: 1,
    minor: 0.5,
    read: 1,
  },
  kPa: {
    of: (inhg) => inhg * KPA_PER_INHG,
    digits: 1,
    name: "kPa",
    top: 100,
    major: 20,
    middle: 10,
    minor: 2,
    read: 2,
  },
  "°F": { of: fahrenheit, digits: 0, name: "°F" },
  "°C": { of: (celsius) => celsius, digits: 0, name: "°C" },
};

// The tachometer's two ranges: for setting the idle, and for driving.
/** @type {Scale} */
export const IDLE_SCALE = { name: "rpm", top: 1500, major: 250, middle: 50, minor: 25, read: 25 };
/** @type {Scale} */
export const ROAD_SCALE = { name: "rpm", top: 6000, major: 1000, middle: 500, minor: 100, read: 100 };

/** @param {number} celsius */
export function fahrenheit(celsius) {
  return celsius * FAHRENHEIT_PER_CELSIUS + FAHRENHEIT_AT_ICE_POINT;
}

// The learner's units, which the folder keeps; every widget of a lesson has the same.
/**
 * @param {KnowsUnits} model
 * @returns {UnitChoice}
 */
export function unitsOf(model) {
  return { ...USUAL_UNITS, ...model.get("chosen_units") };
}

/**
 * @param {KnowsUnits} model
 * @param {Partial<UnitChoice>} chosen
 */
export function chooseUnits(model, chosen) {
  model.set("chosen_units", { ...unitsOf(model), ...chosen });
  model.save_changes();
}

// `redraw` is called now and whenever units are chosen, here or in another part of the lesson, until `gone`.
/**
 * @param {KnowsUnits} model
 * @param {(units: UnitChoice) => void} redraw
 * @param {AbortSignal} gone
 */
export function followUnits(model, redraw, gone) {
  const listener = () => redraw(unitsOf(model));
  model.on("change:chosen_units", listener);
  gone.addEventListener("abort", () => model.off("change:chosen_units", listener));
  listener();
}

/** @param {VacuumUnit} unit */
export function quantity(unit) {
  return QUANTITIES[unit];
}

// A value with its unit as text, or `absent` where there is none to read.
/**
 * @param {number | null | undefined} value
 * @param {VacuumUnit | TemperatureUnit} unit
 */
export function inWords(value, unit, absent = "no reading") {
  if (value === null || value === undefined) return absent;
  const { of, digits, name } = QUANTITIES[unit];
  return `${of(value).toFixed(digits)} ${name}`;
}

/** @param {number | null | undefined} rpm */
export function speedInWords(rpm, absent = "no reading") {
  return rpm === null || rpm === undefined ? absent : `${(Math.round(rpm / 5) * 5).toFixed(0)} rpm`;
}
