"""Where a description contradicts itself: one sentence, at the field that the owner should look at."""

from __future__ import annotations

import difflib
from collections.abc import Iterator

from engine_sim.diagnosis.inspections import INSPECTIONS

from .sections import LIGHT_SPEEDS, Sections, swept_l

SAME_SIZE = 0.04  # share by which a nominal displacement may differ from bore and stroke; common practice, no source
SUM_DEG = 4.0  # by which base and weights may miss a written total: both are rounded; common practice, no source
LARGEST_CYLINDER_L = 1.35
LEAST_CYLINDER_L = 0.15
SWAPPED_DEG = 3.0  # hose on below hose off by more than this is not the light's scatter


def contradictions(engine: Sections) -> dict[str, str]:
    """Every contradiction found, by the dotted name of the field; empty where there is none."""
    return {
        field: sentence
        for look in (_build, _compression, _ignition, _curve, _label, _readings, _light)
        for field, sentence in look(engine)
    }


Found = Iterator[tuple[str, str]]


def _build(engine: Sections) -> Found:
    build = engine.build
    if (build.bore_mm is None) != (build.stroke_mm is None):
        lacks = "stroke" if build.stroke_mm is None else "bore"
        yield f"build.{lacks}_mm", "Bore and stroke belong together: give both, or the displacement alone."
    if build.cylinders is None:
        return
    if build.bore_mm is not None and build.stroke_mm is not None and build.displacement_l is not None:
        swept = swept_l(build.cylinders, build.bore_mm, build.stroke_mm)
        if abs(swept / build.displacement_l - 1.0) > SAME_SIZE:
            yield (
                "build.displacement_l",
                f"{build.cylinders} cylinders of this bore and stroke make {swept:.2f} litres, not "
                f"{build.displacement_l:g}: look at the three again, or leave one out.",
            )
    litres = engine.displacement_l
    if litres is not None and not LEAST_CYLINDER_L <= litres / build.cylinders <= LARGEST_CYLINDER_L:
        yield (
            "build.displacement_l",
            f"{litres:g} litres in {build.cylinders} cylinders is {litres / build.cylinders:.2f} litres each, which no "
            "such engine has: look at the unit and at the number of cylinders.",
        )


def _compression(engine: Sections) -> Found:
    build = engine.build
    if build.compression_by == "paper" and build.compression_ratio is None:
        yield "build.compression_ratio", "The compression is known from paper: enter the ratio that is written there."
    if build.compression_by == "gauge" and build.cranking_kpa is None:
        yield "build.cranking_kpa", "The compression is known from a gauge: enter the lowest of the cylinders."
    if build.compression_by is None and (build.compression_ratio is not None or build.cranking_kpa is not None):
        yield "build.compression_by", "Say where the compression is known from: paper or gauge."


def _ignition(engine: Sections) -> Found:
    ignition = engine.ignition
    if ignition.trigger == "electronic" and ignition.point_gap_mm is not None:
        yield "ignition.point_gap_mm", "An electronic trigger has no points: leave the gap empty, or choose points."
    if ignition.trigger == "electronic" and engine.readings.dwell_deg is not None:
        yield "readings.dwell_deg", "An electronic trigger holds its dwell by itself: leave it empty, or choose points."
    if ignition.hoses == 0:
        for name in ("source", "vacuum_start_inhg", "vacuum_full_inhg", "vacuum_deg"):
            if getattr(ignition, name) is not None:
                yield (
                    f"ignition.{name}",
                    "Without a hose there is no vacuum unit: leave it empty, or count again.",
                )


def _curve(engine: Sections) -> Found:
    ignition = engine.ignition
    for low, high, words in (
        (
            "centrifugal_start_rpm",
            "centrifugal_full_rpm",
            "The weights are all in at a higher speed than they begin",
        ),
        ("vacuum_start_inhg", "vacuum_full_inhg", "The vacuum unit is all in at a higher vacuum than it begins"),
    ):
        begins, ends = getattr(ignition, low), getattr(ignition, high)
        if None not in (begins, ends) and ends <= begins:
            yield f"ignition.{high}", f"{words}: {ends:g} does not lie above {begins:g}."
    if ignition.curve_by == "paper" and ignition.centrifugal_deg is not None and ignition.curve_in is None:
        yield (
            "ignition.curve_in",
            "Whose degrees are these: the crank's, or the distributor's, which are half?",
        )
    if ignition.curve_by == "light" and not ignition.light:
        yield "ignition.light", "The curve is known by light: enter the speeds and what the light showed there."
    if ignition.curve_by == "paper" and ignition.centrifugal_deg is None:
        yield "ignition.centrifugal_deg", "The curve is known from paper: enter the degrees of the weights, all in."


def _label(engine: Sections) -> Found:
    label, ignition = engine.label, engine.ignition
    if label.trusted and label.base_deg is None and label.total_deg is None:
        yield "label.base_deg", "The label is trusted: enter its base timing or its total, or say that there is none."
    if label.base_deg is None or label.total_deg is None:
        return
    if label.total_deg < label.base_deg:
        yield (
            "label.total_deg",
            f"The total lies below the base of {label.base_deg:g} degrees: look at both again.",
        )
        return
    if ignition.curve_by != "paper" or ignition.centrifugal_deg is None or ignition.distributor_from != "this engine":
        return
    weights = ignition.centrifugal_deg * (2.0 if ignition.curve_in == "distributor" else 1.0)
    if abs(label.base_deg + weights - label.total_deg) > SUM_DEG:
        yield (
            "label.total_deg",
            f"Base {label.base_deg:g} and weights {weights:g} make {label.base_deg + weights:g} crank degrees, not "
            f"{label.total_deg:g}: one of the three is the distributor's degrees, or another engine's.",
        )


def _readings(engine: Sections) -> Found:
    read = engine.readings
    if engine.ignition.hoses == 0:
        for name in type(read).model_fields:
            if "_on_" in name and getattr(read, name) is not None:
                yield f"readings.{name}", "This distributor has no hose: leave this reading empty."
    if read.cranking_inhg is not None and read.idle_inhg is not None and read.cranking_inhg >= read.idle_inhg:
        yield (
            "readings.cranking_inhg",
            f"The starter draws less than the engine does at idle, not {read.cranking_inhg:g} against "
            f"{read.idle_inhg:g}: are the two swapped?",
        )
    for name in read.findings:
        if name not in INSPECTIONS:
            close = difflib.get_close_matches(name, INSPECTIONS, n=1)
            meant = f": was {close[0]} meant?" if close else f"; there are {', '.join(INSPECTIONS)}."
            yield f"readings.findings.{name}", f"There is no test '{name}'{meant}"
    for start in ("cold_start", "second_start"):
        if getattr(read, f"{start}_air_c") is not None and getattr(read, start) is None:
            yield f"readings.{start}", "The air of a cold start is given: say how it started, or leave both empty."


def _light(engine: Sections) -> Found:
    read = engine.readings
    for speed in LIGHT_SPEEDS:
        off, on = read.light_deg(speed, "off"), read.light_deg(speed, "on")
        if off is not None and on is not None and engine.ignition.hoses == 1 and on < off - SWAPPED_DEG:
            yield (
                f"readings.light_{speed}_on_deg",
                f"With the hose on the light shows {on:g}, less than the {off:g} with it off: are the two swapped?",
            )
