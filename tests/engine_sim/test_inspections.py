"""Inspections: what each fault shows, what a sound engine shows, and what nobody is told."""

from __future__ import annotations

import functools
import re
from dataclasses import replace

import pytest

from course import ENGINES
from engine_sim import (
    FAULTS,
    INSPECTIONS,
    PATTERNS,
    SOUND,
    SOUND_PATTERN,
    AsFound,
    Conditions,
    Draw,
    Engine,
    OnTheStand,
    fault_named,
    inspection_named,
    learners_engine,
    load_card,
    published,
    usual_screw,
)
from engine_sim.diagnosis.inspections import UnknownInspection
from tests.every_case import check_every
from tests.further import behind
from tests.published import needle, test_needle

HOME_FT = {"delivery_truck_six": 0.0, "farm_runabout_four": 0.0, "hill_hauler_eight": 5000.0}
LEARNERS = ("one", "two")
KPA_PER_PSI = 6.894757  # pound-force a square inch, exact by definition of pound and inch
PSI_AT_EIGHT_TO_ONE = (120.0, 180.0)  # tester's reading of a sound engine at 8 : 1; common practice, no source


@functools.cache
def assignment(name: str, fault: str | None, learner: str = "one"):
    """A learner's engine set by its label, warm, with a fault or none; None where it cannot have the fault."""
    card = learners_engine(load_card(ENGINES / f"{name}.toml"), "workshop", learner, "l08").card
    found = AsFound(card.setting.label_base_timing_deg, round(usual_screw(card), 2), 0.0, 5, coolant_c=85.0)
    if fault is None:
        return Engine(card), found
    if not fault_named(fault).fits(card):
        return None
    wear, found = fault_named(fault).on(card, found, Draw(f"{name}|{fault}|{learner}"))
    return Engine(card, wear), found


@functools.cache
def look(inspection: str, name: str, fault: str | None, learner: str = "one"):
    """The reading of one inspection of that engine at home; made once, for every test that reads it."""
    engine, found = assignment(name, fault, learner)
    return INSPECTIONS[inspection].look(engine, found, Conditions(HOME_FT[name]), Draw(f"{inspection}|{learner}"))


def numbers_in(text: str) -> list[float]:
    """Every number in a text."""
    return [float(found.replace(",", "")) for found in re.findall(r"\d+(?:,\d{3})*(?:\.\d+)?", text)]


def clearly_differ(one: str, other: str) -> bool:
    """Whether two readings differ in their words, or in a number by a twelfth of it and two units, or to the double."""
    if re.sub(r"[\d.,]+", "#", one) != re.sub(r"[\d.,]+", "#", other):
        return True
    pairs = zip(numbers_in(one), numbers_in(other), strict=True)
    return any(abs(a - b) > max(2.0, 0.08 * max(a, b)) or max(a, b) > 2.0 * min(a, b) + 0.1 for a, b in pairs)


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("learner", behind(1, LEARNERS))
def test_the_inspection_that_finds_a_fault_shows_it(fault, learner):
    """What finds a fault exists, calls each engine that has it out of order, and reads clearly unlike a sound one's."""
    finds = FAULTS[fault].found_by

    def check(name):
        ill, well = look(finds, name, fault, learner), look(finds, name, None, learner)
        assert not ill.in_order and well.in_order
        assert clearly_differ(ill.text, well.text), ill.text

    check_every(check, ((name, name) for name in HOME_FT if assignment(name, fault, learner)))


@pytest.mark.parametrize("name", HOME_FT)
def test_a_sound_engine_reads_as_sound(name):
    """Every inspection of every learner's sound engine is in order, and told in the same words."""

    def check(inspection):
        told = [look(inspection, name, None, learner) for learner in LEARNERS]
        assert all(reading.in_order for reading in told), told
        words = {re.sub(r"[\d.,]+", "#", reading.text) for reading in told}
        assert len({re.sub(r"raises|lowers", "", one) for one in words}) <= 2

    check_every(check, ((inspection, inspection) for inspection in INSPECTIONS))


def test_no_sentence_names_the_fault():
    """Neither the fault's name for people nor its id stands in what any inspection tells of it."""

    def check(fault):
        for inspection in (one for one in INSPECTIONS.values() if one.at_rest or one.id == FAULTS[fault].found_by):
            told = look(inspection.id, "delivery_truck_six", fault).text.lower()
            assert FAULTS[fault].title.lower() not in told and fault.replace("_", " ") not in told, told

    check_every(check, ((fault, fault) for fault in FAULTS))


def test_an_inspection_is_described():
    """It has a name for people, takes some minutes, and ends its sentences."""

    def check(inspection):
        assert inspection.title[0].isupper() and 2 <= inspection.minutes <= 90
        told = look(inspection.id, "delivery_truck_six", None).text
        assert told.endswith(".") and 1 <= len(re.findall(r"[.!?](?: |$)", told)) <= 4

    check_every(check, INSPECTIONS.items())


def test_the_same_draw_reads_the_same():
    """Readings have noise, which belongs to the draw."""
    engine, found = assignment("delivery_truck_six", None)
    look_at = INSPECTIONS["compression"]
    assert look_at.tell(engine, found, draw=Draw("a")) == look_at.tell(engine, found, draw=Draw("a"))
    assert len({look_at.tell(engine, found, draw=Draw(f"{number}")) for number in range(8)}) > 1


def test_an_inspection_that_there_is_not_is_told_what_there_is():
    """A wrong id is refused with the ids."""
    with pytest.raises(UnknownInspection, match="There is no inspection 'x_ray'; there are advance_sweep"):
        inspection_named("x_ray")


def test_faults_have_a_pattern_of_the_handbooks_or_none():
    """A fault's needle is one of the patterns that have a name."""
    assert {fault.pattern for fault in FAULTS.values()} == {"", *PATTERNS[1:]}


@pytest.mark.parametrize("name", HOME_FT)
@pytest.mark.parametrize("fault", [None, "timing_late", "exhaust_blocked"])
def test_the_pattern_of_a_running_needle_is_what_handbooks_read(name, fault):
    """One rule that knows the needle alone (common practice, see published/needle.py) names a fault's pattern."""
    engine, found = assignment(name, fault)
    session = OnTheStand(engine, found, Conditions(HOME_FT[name])).started()
    idle, speed = needle._samples(session, needle.IDLE_S)
    session.act("hold_speed", needle.HELD_RPM)
    session.advance(4.0)
    held, _ = needle._samples(session, needle.HELD_S)
    seen = needle.read(needle.NeedleSeen(idle, float(speed.mean()), held, HOME_FT[name]))
    assert seen == (FAULTS[fault].pattern if fault else SOUND_PATTERN)


def test_the_published_readings_of_needles_agree_with_the_faults():
    """What the published tests read on twenty engines each is the pattern that a fault has here."""
    read = {fault: word for fault, word, _ in test_needle.PATTERNS if fault in FAULTS}
    assert len(read) > 8 and all(FAULTS[fault].pattern == word for fault, word in read.items())


# ---- against what workshops read -----------------------------------------------------------------------------------


def test_compression_is_what_testers_show():
    """A sound engine near 8 : 1 reads as testers do, in both units; all cylinders low with low compression."""
    told = look("compression", "delivery_truck_six", None).text
    kpa, psi = numbers_in(told)[:6], numbers_in(told)[6:12]
    assert all(PSI_AT_EIGHT_TO_ONE[0] < value < PSI_AT_EIGHT_TO_ONE[1] for value in psi)
    assert psi == pytest.approx([value / KPA_PER_PSI for value in kpa], abs=0.6)
    low = numbers_in(look("compression", "delivery_truck_six", "compression_low").text)[:6]
    assert max(low) < 0.85 * min(kpa)


def test_oil_raises_what_rings_lose_and_not_what_a_valve_loses():
    """With oil, worn rings read clearly more than dry, and a burnt valve's cylinder no more than the others do."""
    rings, valve = (
        numbers_in(look("compression_with_oil", "delivery_truck_six", fault).text)
        for fault in ("rings_weak", "valve_burnt")
    )
    assert all(wet > 1.3 * dry for dry, wet in zip(rings[:6], rings[12:18], strict=True))
    worst = min(range(6), key=lambda place: valve[place])
    assert valve[12 + worst] < 0.75 * max(valve[12:18])


def test_a_dead_cylinder_costs_no_speed_when_its_lead_comes_off():
    """The idle falls by next to nothing at one cylinder with a dead plug, and at no other."""
    told = look("cylinder_cut_out", "delivery_truck_six", "plug_dead").text
    falls = numbers_in(told)[1:]
    assert sum(fall < 10.0 for fall in falls) == 1 and sorted(falls)[1] > 40.0


def test_a_thumb_on_the_crankcase_valve_tells_how_it_sticks():
    """A sound valve draws, holds the idle up and rattles; one stuck closed does none of it; one stuck open draws, holds
    the idle up by more, and does not rattle; an engine without one says so."""
    sound, opened, closed = (
        look("crankcase_valve", "delivery_truck_six", fault).text
        for fault in (None, "crankcase_valve_open", "crankcase_valve_closed")
    )
    assert "draws the thumb in" in sound and "it rattles" in sound
    assert "draws the thumb in" in opened and "does not rattle" in opened
    assert "feels nothing, and the idle stays as it is" in closed and "does not rattle" in closed
    assert numbers_in(opened)[0] > numbers_in(sound)[0] + 20.0
    assert "has no such valve" in look("crankcase_valve", "farm_runabout_four", None).text


def test_coil_and_dwell_stand_inside_the_bands_of_the_trade():
    """The dwell meter of a sound four reads inside the published band."""
    shown = numbers_in(look("dwell_meter", "farm_runabout_four", None).text)[0]
    band = published("dwell_four")
    assert band.low <= shown <= band.high


def test_the_sweep_shows_what_the_weights_do():
    """Stuck weights add nothing up to 2,500 rpm; a slipped ring moves all marks alike."""
    sound, stuck, slipped = (
        numbers_in(look("advance_sweep", "delivery_truck_six", fault).text)[2:5]
        for fault in (None, "weights_stuck", "damper_slipped")
    )
    assert sound[2] - sound[0] > 12.0 and stuck[2] - stuck[0] <= 1.0
    moved = {round(one - other) for one, other in zip(slipped, sound, strict=True)}
    assert max(moved) - min(moved) <= 1 or "-" in look("advance_sweep", "delivery_truck_six", "damper_slipped").text


def test_an_engine_that_does_not_run_is_said():
    """What needs a running engine says so in one sentence; what does not goes on."""
    engine, found = assignment("farm_runabout_four", "flooded")
    assert INSPECTIONS["soapy_water"].tell(engine, found) == "The engine does not run, so this cannot be looked at."
    assert "wet with fuel" in INSPECTIONS["look_at_plugs"].tell(engine, found)


def test_late_timing_is_seen_by_the_light_alone_where_the_engine_has_to_be_helped():
    """Set far too late it does not start by itself; helped to start, the light shows where it stands."""
    engine, found = assignment("delivery_truck_six", "timing_late")
    told = INSPECTIONS["advance_sweep"].look(engine, found)
    assert not told.in_order and "does not run" not in told.text
    mended = replace(found, base_timing_deg=engine.card.setting.label_base_timing_deg)
    assert INSPECTIONS["advance_sweep"].look(Engine(engine.card, SOUND), mended).in_order


# ---- a cold engine that is slow to start ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (None, "turns evenly, briskly, and runs after"),
        ("battery_weak", "drags, and the lamps go dim"),
        ("flooded", "does not run within ten seconds; it smells of petrol"),
        ("half_turn", "it spits back through the carburettor"),
        ("coil_dead", "turns evenly, briskly, and does not run within ten seconds; cold as it is"),
    ],
)
def test_the_starter_tells_what_it_can(fault, said):
    """How it turns, how long it takes, and what nose and ear add: by the same words that the bench has."""
    assert said in look("crank_and_listen", "delivery_truck_six", fault).text


def test_half_a_turn_is_not_seen_by_the_lamp():
    """The points open at the same place of the crank; a tooth out they do not open anywhere near."""
    half, tooth = (look("static_timing", "delivery_truck_six", fault) for fault in ("half_turn", "tooth_out"))
    assert half.in_order and not tooth.in_order and "as far as the marks reach" in tooth.text


def test_a_weak_battery_thins_the_spark_and_a_dead_coil_gives_none():
    """The tester shows three kinds: strong, thin and none."""
    strong, thin, none = (
        look("spark_at_tester", "delivery_truck_six", fault).text for fault in (None, "battery_weak", "coil_dead")
    )
    assert "strong spark" in strong and "thin spark" in thin and none.startswith("No spark")
