"""How the stored tables are made: owners drawn from a seed, faults weaker than the catalogue's, and the fit."""

from __future__ import annotations

import json

import numpy as np
import pytest

from engine_sim import FAULTS, AsFound, Draw, Engine
from engine_sim.model.idle_table import TIMINGS_DEG
from engine_sim.owned import drawing, fitting, healthy_drawing, observe
from engine_sim.owned.causes import CAUSES, HEALTHY, LEFT_OUT, strength, with_cause
from engine_sim.owned.description import owned_from
from engine_sim.owned.drawing import ENGINES_A_KIND, KINDS, described, draw_all
from engine_sim.owned.healthy_draws import KNOWN, NOT_KNOWN, healthy_draws
from engine_sim.owned.nominal import nominal_card
from engine_sim.owned.observe import observed
from engine_sim.owned.tables import FEATURES, TABLES, WORDS, load_tables, said_by, tables_from
from engine_sim.owned.unknowns import drawn
from engine_sim.physics.atmosphere import air_share
from engine_sim.physics.units import metres_from_feet

SIX = owned_from({"build": {"cylinders": 6, "displacement_l": 4.0}, "place": {"altitude_ft": 0.0}})


def line(cause: str, number: int, rng: np.random.Generator) -> dict:
    """One owner of a file, with plausible readings."""
    nominal = dict.fromkeys(FEATURES, 10.0)
    numbers = {name: 10.0 + float(rng.normal()) for name in FEATURES}
    words = {name: words[0] for name, words in WORDS.items()}
    whose = {"kind": "six", "engine": number, "altitude_ft": 0.0, "cause": cause, "side": "", "share": 1.0}
    return whose | {"nominal": nominal, "numbers": numbers, "words": words}


def test_the_same_seed_draws_the_same_engine_and_another_seed_another():
    """A stand-in is one and the same for ever, idles, and fits the description."""
    one, again, other = drawn(SIX, 3), drawn(SIX, 3), drawn(SIX, 4)
    assert one == again and one.card != other.card
    assert one.card.block.cylinders == 6 and one.card.displacement_l == pytest.approx(4.0, rel=1e-6)
    seen = observed(Engine(one.card), one.found, one.conditions)
    assert seen.words["warm_start"] == "starts at once" and 9.0 < seen.numbers["idle_inhg"] < 23.0
    assert set(seen.words) == set(WORDS) and set(seen.numbers) == set(FEATURES)


def test_a_late_engine_gains_more_from_advance_and_a_leak_lowers_the_starters_vacuum():
    """With the body turned: more speed towards advance, less towards retard; a late base gains more than the label's. A
    torn vacuum unit gives nothing at 2,500 rpm when its hose comes on; and a leak lets air in on the starter too."""
    one = drawn(SIX, 3)
    read = {
        cause: observed(*with_cause(one.card, one.found, cause, Draw("same")), one.conditions, words=False).numbers
        for cause in (HEALTHY, "timing_some_late", "canister_torn", "plenum_leak")
    }

    def gained(cause: str, way: str) -> float:
        return read[cause][f"turned_{way}_rpm"] - read[cause]["idle_rpm"]

    def drawn_by_unit(cause: str) -> float:
        return read[cause]["held_2500_on_inhg"] - read[cause]["held_2500_inhg"]

    assert gained(HEALTHY, "late") < -20.0 < 20.0 < gained(HEALTHY, "early")
    assert gained("timing_some_late", "early") > gained(HEALTHY, "early") + 5.0
    assert abs(drawn_by_unit("canister_torn")) < 0.25 < drawn_by_unit(HEALTHY)
    assert read["plenum_leak"]["cranking_inhg"] < read[HEALTHY]["cranking_inhg"] - 0.5


def test_leads_off_starter_mark_and_dwell_read_as_the_engine_is():
    """One cylinder that does nothing, two beside a blown gasket, none on a sound engine; a starter that a weak battery
    turns slowly; a mark that a worn bush lets wander; the maker's dwell, and another where points are set wrongly."""
    one = drawn(SIX, 3)
    read = {
        cause: observed(*with_cause(one.card, one.found, cause, Draw("same")), one.conditions)
        for cause in (HEALTHY, "plug_dead", "gasket_between", "dwell_wrong", "battery_weak", "bush_worn")
    }
    told = [read[cause].words["cut_out"] for cause in (HEALTHY, "plug_dead", "gasket_between")]
    assert told == ["falls alike", "hardly falls at one", "hardly falls at two"]
    starters = [read[cause].numbers["cranking_rpm"] for cause in (HEALTHY, "battery_weak")]
    assert 80.0 < starters[1] < starters[0] - 20.0 < 300.0
    wanders = [read[cause].numbers["mark_wander_deg"] for cause in (HEALTHY, "bush_worn")]
    assert wanders[0] < 2.0 < 3.0 < wanders[1]
    sound, changed = (read[cause].numbers["dwell_deg"] for cause in (HEALTHY, "dwell_wrong"))
    assert sound == one.card.ignition.dwell_deg and abs(changed - sound) > 5.0


def test_what_starts_at_a_second_try_takes_long(monkeypatch):
    """A choke that does not close lets nothing fire on a cold morning before the pedal has been used again; rings that
    let the charge by do not start then either."""
    one = drawn(SIX, 3)
    morning = {
        cause: observed(*with_cause(one.card, one.found, cause, Draw("same")), one.conditions).words["cold_start"]
        for cause in (HEALTHY, "choke_stuck", "rings_weak")
    }
    assert morning == {HEALTHY: "starts at once", "choke_stuck": "takes long", "rings_weak": "does not start"}
    monkeypatch.setitem(observe.STROKES, observe.COLD_C, (1,))
    without = observed(*with_cause(one.card, one.found, "choke_stuck", Draw("same")), one.conditions)
    assert without.words["cold_start"] == "does not start"


def test_a_weaker_fault_lies_between_the_sound_engine_and_the_catalogues():
    """A leak, a late base, a lean screw at a half are half as large; what is there or not is there."""
    card, found = nominal_card(SIX), AsFound(8.0, 3.0, 0.0, 1)
    for cause, value in (
        ("plenum_leak", lambda engine, found: engine.wear.plenum_leak_m2),
        ("timing_late", lambda engine, found: 8.0 - found.base_timing_deg),
        ("valve_burnt", lambda engine, found: engine.wear.cylinders[0][1].leak_share),
        ("idle_lean", lambda engine, found: card.mixture.mixture_screw_turns - found.mixture_screw),
        ("springs_weak", lambda engine, found: 1.0 - engine.wear.spring_left),
    ):
        whole, half = (value(*with_cause(card, found, cause, Draw("same"), share)) for share in (1.0, 0.5))
        assert half == pytest.approx(0.5 * whole, abs=2e-3) and whole > 0.0
    assert with_cause(card, found, "canister_torn", Draw("same"), 0.3)[0].wear.canister_torn
    engine, same = with_cause(card, found, HEALTHY, Draw("same"))
    assert same == found and engine.wear.cylinders == ()
    strengths = [strength(np.random.default_rng(seed)) for seed in range(200)]
    assert min(strengths) >= 1.0 / 3.0 and max(strengths) == 1.0


def test_every_fault_is_compared_or_left_out_for_a_reason():
    """No fault of the catalogue is forgotten."""
    assert set(CAUSES) | set(LEFT_OUT) == set(FAULTS) and not set(CAUSES) & set(LEFT_OUT)


def test_the_kinds_are_described_without_contradictions():
    """Every kind, several times, with all that a simulation needs."""
    for kind in KINDS:
        for number in range(3):
            said = described(kind, number, np.random.default_rng(number))
            assert not said.lacking and nominal_card(said).block.cylinders == KINDS[kind]["cylinders"]


def test_drawing_goes_on_where_it_stopped(tmp_path, capsys, monkeypatch):
    """An engine whose last line is there is not drawn again; one that was broken off is; progress is told."""
    path = tmp_path / "owners.jsonl"
    asked = []

    def make(kind, number):
        asked.append((kind, number))
        yield {"kind": kind, "engine": number}

    draw_all(path, make, [("six", 0)])
    draw_all(path, make, [("six", 0), ("six", 1)])
    assert asked == [("six", 0), ("six", 1)] and "2 of 2 engines" in capsys.readouterr().out
    monkeypatch.setattr("sys.argv", ["drawing"])
    assert drawing.main() == 2 and "Give a folder" in capsys.readouterr().out


def test_the_fit_gives_back_what_was_put_in(tmp_path, monkeypatch):
    """Means near those drawn, words counted, findings softened, and the file read as it was written."""
    rng = np.random.default_rng(5)
    owners = [line(cause, number, rng) for number in range(40) for cause in (HEALTHY, *CAUSES)]
    looks = [
        {"kind": "six", "engine": 0, "cause": cause, "in_order": {"compression": cause == HEALTHY}}
        for cause in (HEALTHY, *CAUSES)
    ]
    for name, lines in (("owners", owners), ("inspections", looks)):
        (tmp_path / f"{name}.jsonl").write_text("".join(json.dumps(one) + "\n" for one in lines), encoding="utf-8")
    monkeypatch.setattr(fitting, "TABLES", tmp_path / "tables.json")
    monkeypatch.setattr("sys.argv", ["fitting", str(tmp_path)])
    assert fitting.main() == 0
    made = tables_from(json.loads((tmp_path / "tables.json").read_text(encoding="utf-8")))
    healthy = made.causes[HEALTHY]
    assert np.abs(healthy.sides[0].mean).max() < 0.7 and healthy.words["needle"]["stands still"] > 0.9
    assert healthy.out_of_order["compression"] < 0.1 < 0.5 < made.causes["rings_weak"].out_of_order["compression"] < 1.0


def test_the_fit_finds_what_strength_and_cylinders_add():
    """Readings that grow with the fault and with the share of one cylinder, put in and found again; a weak fault's
    words are counted apart from a strong one's."""
    rng = np.random.default_rng(6)
    owners = []
    for number in range(240):
        for cause in (HEALTHY, *CAUSES):
            one = line(cause, number, rng) | {"kind": ("small four", "six", "large eight")[number % 3]}
            one["share"] = (1.0, 0.5)[number % 2]
            if cause == "valve_burnt":
                added = one["share"] * {"small four": 6.0, "six": 4.0, "large eight": 3.0}[one["kind"]]
                one["numbers"]["idle_rpm"] -= 10.0 * added
                one["words"] = one["words"] | {"runs": "stumbles" if one["share"] == 1.0 else "runs evenly"}
            owners.append(one)
    made = tables_from(json.loads(json.dumps(fitting.fitted(owners, []))))
    valve, place = made.causes["valve_burnt"], FEATURES.index("idle_rpm")
    for share, cylinders, wanted in ((1.0, 6, -40.0), (0.5, 6, -20.0), (1.0, 4, -60.0), (1.0, 8, -30.0)):
        assert valve.sides[0].mean_of(share, cylinders)[place] == pytest.approx(
            wanted, abs=6.0
        )  # a little is shrunk away
    stumbles = {strong: valve.words_by[said_by(strong, 8)]["runs"]["stumbles"] for strong in (True, False)}
    assert stumbles[True] > 0.9 > 0.1 > stumbles[False]


def test_healthy_engines_are_kept_beside_those_of_their_descriptions(tmp_path, monkeypatch):
    """Two engines drawn for the bands: vacuum as at sea level, gaps of a curve kept, and the engine set alike nearer to
    its nominal one than that set by the label, since its own base lies far off."""
    monkeypatch.setattr(healthy_drawing, "ENGINES", {KNOWN: 1, NOT_KNOWN: 1})
    monkeypatch.setattr(healthy_drawing, "DRAWS", tmp_path / "draws.json")
    monkeypatch.setattr("sys.argv", ["healthy_drawing", str(tmp_path)])
    monkeypatch.setenv("TIMING_COURSE_CACHE", str(tmp_path / "maps"))
    assert healthy_drawing.main() == 0
    made = json.loads((tmp_path / "draws.json").read_text(encoding="utf-8"))
    line = json.loads((tmp_path / "healthy.jsonl").read_text(encoding="utf-8").splitlines()[0])
    share = float(air_share(metres_from_feet(line["altitude_ft"])))
    held = (line["numbers"]["held_2500_inhg"] - line["nominal"]["held_2500_inhg"]) / share
    assert made[KNOWN]["held_inhg"] == [pytest.approx(held, abs=0.006)]
    assert {len(values) for group in made.values() for values in group.values()} == {1}
    assert len(made[KNOWN]["curve_inhg"][0]) == len(TIMINGS_DEG) and None in made[KNOWN]["curve_rpm"][0]
    monkeypatch.setattr("sys.argv", ["healthy_drawing"])
    assert healthy_drawing.main() == 2


def test_the_stored_engines_are_those_that_were_drawn():
    """More than a hundred of each kind, whose idle lies about the nominal one's, nearer where both are set alike."""
    for known, least in ((True, 180), (False, 100)):
        draws = healthy_draws(known)
        assert draws.end_deg.size >= least and draws.curve_inhg.shape == (draws.end_deg.size, len(TIMINGS_DEG))
        assert abs(draws.idle_inhg.mean()) < 0.3 and draws.idle_set_alike_inhg.std() < draws.idle_inhg.std()
    assert healthy_draws(False).octane.std() > 1.3 * healthy_draws(True).octane.std()


def test_the_stored_tables_are_of_a_thousand_owners():
    """As many as the drawing says, but for engines that do not idle, and every inspection in every cause's row."""
    tables = load_tables()
    assert tables.owners >= 1000 and 0 <= ENGINES_A_KIND * len(KINDS) - tables.engines <= 2 and TABLES.is_file()
    rows = [set(cause.out_of_order) for cause in tables.causes.values()]
    assert all(row == rows[0] for row in rows) and "compression" in rows[0]
    assert sum(side.mean is None for cause in tables.causes.values() for side in cause.sides) <= 3
