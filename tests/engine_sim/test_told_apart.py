"""The table of which inspection tells which faults apart, against the inspections themselves."""

from __future__ import annotations

from itertools import combinations

import pytest

from engine_sim import FAULTS, INSPECTIONS, tells_apart
from tests.every_case import check_every

from .told_apart import HOME_FT, LEARNERS, alike_in, clearly_differ, readings

AT_REST = tuple(name for name, one in INSPECTIONS.items() if one.at_rest)
RUNNING = tuple(name for name, one in INSPECTIONS.items() if not one.at_rest)
OF_THE_TRUCK = ("", "plenum_leak", "timing_late", "valves_late")


def table_holds(found, inspections) -> None:
    """Every pair that the table tells apart is told apart on these engines."""

    def check(inspection):
        wrong = [pair for pair in alike_in(found, inspection) if tells_apart(inspection, *pair)]
        assert wrong == []

    check_every(check, ((one, one) for one in inspections))


def test_inspections_at_rest_read_as_the_table_has_it():
    """On one engine of each card, every fault that the table tells apart from another reads clearly unlike it."""
    table_holds(readings(HOME_FT, LEARNERS[:1], ("", *FAULTS), AT_REST), AT_REST)


def test_inspections_of_a_running_engine_read_as_the_table_has_it():
    """So do those of the running engine, for faults of the delivery truck."""
    table_holds(readings(("delivery_truck_six",), LEARNERS[:1], OF_THE_TRUCK, RUNNING), RUNNING)


@pytest.mark.further
def test_an_engine_that_the_table_was_not_made_from_reads_so_too():
    """The table holds for a learner whose engine it never saw."""
    table_holds(readings(HOME_FT, ("somebody else",), ("", *FAULTS), AT_REST), AT_REST)


def test_the_inspection_that_finds_a_fault_tells_it_from_a_sound_engine():
    """Every fault's own inspection is among those that show it, and nothing is told apart from itself."""
    assert [name for name, one in FAULTS.items() if not tells_apart(one.found_by, name, "")] == []
    assert not any(tells_apart(one, name, name) for one in INSPECTIONS for name in FAULTS)


def test_it_does_not_matter_which_of_two_is_named_first():
    """Told apart holds both ways round; a fault or an inspection that is not there is told from nothing."""
    pairs = list(combinations(("", *FAULTS), 2))
    assert all(tells_apart(one, a, b) == tells_apart(one, b, a) for one in INSPECTIONS for a, b in pairs)
    assert not tells_apart("x_ray", "canister_torn", "") and not tells_apart("hand_pump", "gremlins", "")


def test_a_reading_that_is_like_another_would_be_noticed():
    """The measure of unlike tells numbers apart by more than their noise, whichever cylinder shows them."""
    found = readings(("delivery_truck_six",), LEARNERS[:2], ("valve_burnt", "gasket_between"), ("compression",))
    burnt, other, gasket = (
        found["delivery_truck_six", learner, fault]["compression"]
        for learner, fault in (("one", "valve_burnt"), ("two", "valve_burnt"), ("one", "gasket_between"))
    )
    assert clearly_differ(burnt, gasket) and not clearly_differ(burnt, burnt)
    assert burnt.text != other.text
