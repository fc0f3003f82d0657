"""The starting figure of an engine without papers, and whether a distributor suits: practice, never more than it."""

from __future__ import annotations

import numpy as np
import pytest

from engine_sim.owned.description import owned_from
from engine_sim.owned.distributor import suits
from engine_sim.owned.starting import HIGHEST_BASE_DEG, HIGHEST_TOTAL_DEG, starting_figure

SIX = {"cylinders": 6, "displacement_l": 4.1}
SUITS = {"light_idle_off_deg": 8.0, "light_1500_off_deg": 15.0, "light_2500_off_deg": 24.0, "light_3000_off_deg": 27.0}
FUEL = {"place": {"octane": 95.0, "octane_scale": "RON"}}


def described(rng: np.random.Generator) -> dict:
    """A description without any figure of a maker's, of some engine."""
    build: dict = {"cylinders": int(rng.choice([4, 6, 8]))}
    build["displacement_l"] = round(build["cylinders"] * rng.uniform(0.3, 0.85), 2)
    if rng.random() < 0.6:
        build |= {"compression_by": "paper", "compression_ratio": round(rng.uniform(6.0, 10.5), 1)}
    read = {"cranks": str(rng.choice(["cranks evenly", "cranks slowly", "kicks back"]))}
    place = {"altitude_ft": float(rng.choice([0.0, 3000.0, 8000.0]))}
    return {"build": build, "readings": read, "place": place}


def test_nobody_is_given_more_than_practice_allows():
    """The two limits are these; every other test here holds figures to them."""
    assert (HIGHEST_BASE_DEG, HIGHEST_TOTAL_DEG) == (12.0, 36.0)


def test_no_figure_without_papers_is_above_practice():
    """Twenty engines: never a base above 12 nor a total above 36, nothing below the span but to start an engine that
    kicks; and every figure comes with its grounds and with when to stop."""
    rng = np.random.default_rng(3)
    for _ in range(20):
        told = starting_figure(owned_from(described(rng)))
        assert not told.by_maker and 2.0 <= told.first_running_deg <= HIGHEST_BASE_DEG
        assert 0.0 <= told.to_start_deg[0] <= told.to_start_deg[1] <= told.first_running_deg
        assert told.total_at_most_deg <= HIGHEST_TOTAL_DEG
        assert len(told.reasons) >= 4 and told.to_go_on and any("pings" in one for one in told.stop_when)


def test_the_simulation_only_lowers():
    """Practice alone gives at least what practice and the simulation give together."""
    rng = np.random.default_rng(4)
    for _ in range(6):
        said = described(rng)
        both = starting_figure(owned_from(said))
        size = {name: said["build"][name] for name in said["build"] if name not in ("cylinders", "displacement_l")}
        practice = starting_figure(owned_from(said | {"build": size}))
        assert both.first_running_deg <= practice.first_running_deg
        assert any("practice alone" in one for one in practice.reasons)


def test_the_makers_figure_is_repeated_as_the_makers():
    """Typed in and trusted it stands, above 12 and 36 too; with another engine's distributor, or a label that is not
    trusted, it does not."""
    papers = {"build": SIX, "label": {"base_deg": 14.0, "total_deg": 38.0}}
    told = starting_figure(owned_from(papers))
    assert told.by_maker and told.first_running_deg == 14.0 and told.total_at_most_deg == 38.0
    assert any("maker's base of 14" in one for one in told.reasons)
    for change in (
        {"ignition": {"distributor_from": "another engine"}},
        {"label": papers["label"] | {"trusted": False}},
    ):
        other = starting_figure(owned_from(papers | change))
        assert not other.by_maker and other.first_running_deg <= 12.0 and other.total_at_most_deg <= 36.0


def test_an_engine_that_kicks_begins_later():
    """0 to 4 degrees instead of 6 to 8."""
    kicks = starting_figure(owned_from({"readings": {"cranks": "kicks back"}}))
    assert kicks.to_start_deg == (0.0, 4.0) and starting_figure(owned_from({})).to_start_deg == (6.0, 8.0)


# ---- does this distributor suit? ------------------------------------------------------------------------------------


def said(**changes) -> str:
    """All sentences on a distributor."""
    unit = {"light_1500_on_deg": 27.0, "light_2500_on_deg": 36.0, "light_idle_on_deg": 8.0}
    hoses = 2 if changes.get("light_idle_on_deg") == 0.0 else 1  # one of two may retard
    read = SUITS | unit | changes
    return " ".join(suits(owned_from({"build": SIX, "ignition": {"hoses": hoses}, "readings": read} | FUEL)).sentences)


@pytest.mark.parametrize(
    ("changes", "words"),
    (
        ({}, "Nothing speaks against"),
        ({"light_1500_off_deg": 8.0, "light_1500_on_deg": 20.0}, "Late start"),
        ({"light_1500_off_deg": 27.0, "light_1500_on_deg": 39.0}, "Too quick"),
        ({"light_3000_off_deg": 16.0, "light_2500_off_deg": 15.0, "light_2500_on_deg": 27.0}, "Total short"),
        ({"light_3000_off_deg": 44.0}, "Total too great"),
        ({"light_1500_on_deg": 15.0, "light_2500_on_deg": 25.0}, "dead"),
        ({"light_2500_on_deg": 62.0}, "too strong"),
        ({"light_1500_on_deg": 8.0, "light_2500_on_deg": 24.0, "light_idle_on_deg": 0.0}, "retards"),
        (
            {"light_1500_off_deg": 8.0, "light_2500_off_deg": 8.5, "light_3000_off_deg": 8.5, "light_1500_on_deg": 20.0}
            | {"light_2500_on_deg": 20.0},
            "do not move",
        ),
    ),
)
def test_a_distributor_that_does_not_suit_is_told_how(changes, words):
    """One sentence for each way in which it does not suit."""
    assert words in said(**changes)


def test_the_bands_lie_within_practice_and_follow_the_fuel():
    """Never above 36; a poorer fuel never widens them; what to ask a specialist for comes where something is wrong."""
    told = {}
    for octane in (87.0, 98.0):
        place = {"place": {"octane": octane, "octane_scale": "RON"}}
        read = {"readings": SUITS | {"light_3000_off_deg": 15.0, "light_2500_off_deg": 14.0}}
        told[octane] = suits(owned_from({"build": SIX} | place | read))
        rows = [row for row in told[octane].rows if row.hose == "off" and row.low_deg is not None]
        assert len(rows) == 3 and all(row.low_deg <= row.high_deg <= HIGHEST_TOTAL_DEG for row in rows)
        assert [row.high_deg for row in rows] == sorted(row.high_deg for row in rows)
        assert any("Weights and springs" in one for one in told[octane].ask_for)
    poor, good = (
        sum(row.high_deg for row in told[octane].rows if row.high_deg and row.hose == "off") for octane in told
    )
    assert poor < good
    nothing = suits(owned_from({"build": SIX}))
    assert "Too little was read" in nothing.sentences[0] and not nothing.ask_for
    assert any("octane number" in one for one in nothing.ground) and any("compression" in one for one in nothing.ground)
