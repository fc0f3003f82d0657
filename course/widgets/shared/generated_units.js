// Made by `python -m course.authoring.build units` from engine_sim/physics/units.py. Do not edit.

export const KPA_PER_INHG = 3.386389;
export const METRES_PER_FOOT = 0.3048;
export const MM_PER_INCH = 25.4;
export const FAHRENHEIT_PER_CELSIUS = 1.8;
export const FAHRENHEIT_AT_ICE_POINT = 32;
