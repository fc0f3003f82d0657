"""What an owner may say of an engine, section by section. Every field may be left out: nobody is made to guess.

Fields carry their units in their names; degrees are the crank's, but for the dwell and for a curve that says it is in
the distributor's. Importing this module imports pydantic.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

Source = Literal["manifold", "ported"]
NeedleWords = Literal["stands still", "flicks in rhythm", "drops now and then", "drifts", "falls when held at speed"]
StartWords = Literal["starts at once", "takes long", "starts and dies", "does not start"]
CrankWords = Literal["cranks evenly", "cranks slowly", "kicks back"]
RunWords = Literal["runs evenly", "runs unevenly", "stumbles", "is close to stalling"]
PingWords = Literal["no ping", "a trace of ping", "clear ping", "heavy ping"]
CutOutWords = Literal["falls alike", "hardly falls at one", "hardly falls at two", "hardly falls at several"]
MissWords = Literal["none", "at idle", "under load", "at idle and under load", "at a cruise, hose on"]
PullWords = Literal["pulls well", "pulls weakly"]
SnapWords = Literal["falls far and springs back high", "comes back weakly"]
SmokeWords = Literal["none", "black", "blue", "pops"]
MarkWords = Literal["stands still", "wanders"]
FindingWords = Literal["in order", "out of order"]
LIGHT_SPEEDS = ("idle", "1500", "2500", "3000")
HoseWords = Literal["off", "on"]


def _number(low: float, high: float, title: str) -> Any:
    return Field(default=None, ge=low, le=high, allow_inf_nan=False, title=title)


def _words(title: str, longest: int = 200) -> Any:
    return Field(default="", max_length=longest, pattern=r"^[^\x00-\x08\x0b\x0c\x0e-\x1f\x7f]*$", title=title)


def _choice(title: str) -> Any:
    return Field(default=None, title=title)


class Section(BaseModel):
    """One section of the file: no other fields, and nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class OwnedIdentity(Section):
    """How the owner calls it, and what it was put together from."""

    title: str = _words("name of the engine", 80)
    conversion: str = _words("what was put together: engine of one vehicle, distributor of another", 400)
    note: str = _words("anything else", 1000)


class Build(Section):
    """What the engine is, from its plate, its papers or by counting.

    A compression ratio counts as `compression_by` says: from paper, from a gauge (the lowest cranking pressure of the
    cylinders) or not at all.
    """

    cylinders: Literal[4, 6, 8] | None = _choice("cylinders")
    layout: Literal["in line", "vee", "flat"] | None = _choice("in line, vee or flat")
    displacement_l: float | None = _number(0.4, 10.0, "displacement [litres]")
    bore_mm: float | None = _number(50.0, 130.0, "bore [mm]")
    stroke_mm: float | None = _number(50.0, 130.0, "stroke [mm]")
    valve_gear: Literal["overhead valves", "side valves", "overhead cam"] | None = _choice("valve gear")
    cam: Literal["as built", "not as built"] | None = _choice("camshaft")
    carburettors: int | None = _number(1, 4, "carburettors")
    barrels: Literal[1, 2, 4] | None = _choice("barrels of each carburettor")
    crankcase_valve: bool | None = _choice("crankcase (PCV) valve")
    transmission: Literal["automatic", "manual"] | None = _choice("gearbox")
    compression_by: Literal["paper", "gauge"] | None = _choice("where the compression is known from")
    compression_ratio: float | None = _number(5.0, 13.0, "compression ratio, by paper")
    cranking_kpa: float | None = _number(300.0, 2000.0, "lowest compression by the gauge [kPa]")


class LightReading(Section):
    """Total advance under the light at one speed, vacuum hose off and plugged, and on [crank deg BTDC]."""

    rpm: Annotated[float, Field(ge=300, le=6000, allow_inf_nan=False, title="speed [rpm]")]
    hose_off_deg: float | None = _number(-30, 80, "hose off and plugged [° BTDC]")
    hose_on_deg: float | None = _number(-30, 80, "hose on [° BTDC]")


class OwnedIgnition(Section):
    """The distributor: where it came from, what triggers it, its hoses and its curve.

    Degrees and speeds of a curve by paper are in `curve_in` (the crank's or the distributor's own); a curve by light
    is `light`, in crank degrees and crank speeds, and may have been read at another time than the readings.
    """

    distributor_from: Literal["this engine", "another engine"] | None = _choice("distributor from")
    trigger: Literal["breaker points", "electronic"] | None = _choice("points or electronic trigger")
    rotor_turns: Literal["clockwise", "anticlockwise"] | None = _choice("rotor turns, seen from above")
    dwell_deg: float | None = _number(10, 70, "dwell [distributor deg]")
    point_gap_mm: float | None = _number(0.2, 0.8, "points gap [mm]")
    hoses: Literal[0, 1, 2] | None = _choice("hoses at the vacuum unit")
    source: Source | None = _choice("what the advance hose is fed from")
    curve_by: Literal["paper", "light"] | None = _choice("curve by paper or by light")
    curve_in: Literal["crank", "distributor"] | None = _choice("whose degrees and speeds the paper gives")
    centrifugal_start_rpm: float | None = _number(100, 4000, "weights begin at [rpm]")
    centrifugal_full_rpm: float | None = _number(300, 6000, "weights all in at [rpm]")
    centrifugal_deg: float | None = _number(0, 40, "weights, all in [deg]")
    vacuum_start_inhg: float | None = _number(0.5, 20, "vacuum unit begins at [inHg]")
    vacuum_full_inhg: float | None = _number(1, 25, "vacuum unit all in at [inHg]")
    vacuum_deg: float | None = _number(0, 35, "vacuum unit, all in [deg]")
    light: tuple[LightReading, ...] = Field(default=(), max_length=12, title="curve by light")


class OwnedLabel(Section):
    """The maker's figures, as far as they are known, and whether the owner trusts the label to be this engine's."""

    trusted: bool | None = _choice("the label belongs to this engine as it is")
    base_deg: float | None = _number(-10, 25, "base timing [crank deg BTDC]")
    base_hose: Literal["on", "off and plugged"] | None = _choice("hose while the base is read")
    idle_rpm: float | None = _number(350, 1300, "idle [rpm]")
    speed_drop_rpm: float | None = _number(10, 250, "speed drop from the peak [rpm]")
    total_deg: float | None = _number(5, 60, "total without vacuum [crank deg BTDC]")
    total_rpm: float | None = _number(1000, 6000, "speed at which the total is reached [rpm]")


class OwnedPlace(Section):
    """Where it runs, in what weather, and on what fuel; `octane_scale` is the scale of the number on the pump."""

    altitude_ft: float | None = _number(-1000, 14000, "altitude [ft]")
    air_c: float | None = _number(-30, 50, "air [°C]")
    humidity_percent: float | None = _number(0, 100, "relative humidity [%]")
    octane: float | None = _number(55, 115, "octane number of the fuel")
    octane_scale: Literal["RON", "AKI", "MON"] | None = _choice("scale of that number")


class SweepReading(Section):
    """One halt of the owner's own sweep: where the light stood, and what gauge and tachometer showed there: hose off
    and plugged, warm, idle screw untouched but for the re-trim at the peak."""

    light_deg: Annotated[float, Field(ge=-30, le=70, allow_inf_nan=False, title="light [° BTDC]")]
    vacuum_inhg: Annotated[float, Field(ge=0, le=28, allow_inf_nan=False, title="vacuum [inHg]")]
    rpm: float | None = _number(200, 2500, "speed [rpm]")


class OwnedReadings(Section):
    """What was read on the warm engine, in park or neutral, before anything was changed; every field may be missing.

    Vacuum, speed and needle at idle are read with the advance hose off and plugged.

    The turned fields are vacuum and speed at idle, hose off, with the body turned 8 crank degrees (4 of the body)
    towards advance (`early`) and towards retard (`late`) from where it stood. `cranking_inhg` and `cranking_rpm` are
    read while the starter turns the warm engine, throttle shut, coil lead out and earthed.

    `dwell_deg` is read at idle, in degrees of the distributor. `cut_out` says what the idle speed does with one plug
    lead after the other off and earthed.

    Light fields are hose off and plugged (`off`) or on (`on`), at the idle and at 1,500, 2,500 and 3,000 rpm.
    `cold_start_air_c` is the air temperature of the start that `cold_start` tells of; `second_start` tells of another,
    in other air. The three errors are what a check of the instruments found them to show too much (gauge: with the
    engine off).
    """

    day: str = _words("day of the readings", 40)
    altitude_ft: float | None = _number(-1000, 14000, "height of the day [ft], if not at home")
    air_c: float | None = _number(-30, 50, "air of the day [°C]")
    idle_inhg: float | None = _number(0, 28, "vacuum at idle [inHg]")
    needle: NeedleWords | None = _choice("what the needle does")
    idle_rpm: float | None = _number(250, 2500, "idle [rpm]")
    idle_on_inhg: float | None = _number(0, 28, "vacuum at idle, hose on [inHg]")
    idle_on_rpm: float | None = _number(250, 3000, "idle, hose on [rpm]")
    dwell_deg: float | None = _number(5, 85, "dwell at idle [distributor deg]")
    cut_out: CutOutWords | None = _choice("idle speed, one plug lead off after the other")
    held_2500_inhg: float | None = _number(0, 28, "vacuum held at 2,500 rpm, hose off [inHg]")
    held_2500_on_inhg: float | None = _number(0, 28, "vacuum held at 2,500 rpm, hose on [inHg]")
    turned_early_inhg: float | None = _number(0, 28, "vacuum, body turned towards advance [inHg]")
    turned_early_rpm: float | None = _number(100, 2500, "speed, body turned towards advance [rpm]")
    turned_late_inhg: float | None = _number(0, 28, "vacuum, body turned towards retard [inHg]")
    turned_late_rpm: float | None = _number(100, 2500, "speed, body turned towards retard [rpm]")
    cranking_inhg: float | None = _number(0, 28, "vacuum while the starter turns it, throttle shut [inHg]")
    cranking_rpm: float | None = _number(30, 500, "speed at which the starter turns it [rpm]")
    light_idle_off_deg: float | None = _number(-30, 80, "light at idle, hose off [° BTDC]")
    light_idle_on_deg: float | None = _number(-30, 80, "light at idle, hose on [° BTDC]")
    light_1500_off_deg: float | None = _number(-30, 80, "light at 1,500 rpm, hose off [° BTDC]")
    light_1500_on_deg: float | None = _number(-30, 80, "light at 1,500 rpm, hose on [° BTDC]")
    light_2500_off_deg: float | None = _number(-30, 80, "light at 2,500 rpm, hose off [° BTDC]")
    light_2500_on_deg: float | None = _number(-30, 80, "light at 2,500 rpm, hose on [° BTDC]")
    light_3000_off_deg: float | None = _number(-30, 80, "light at 3,000 rpm, hose off [° BTDC]")
    light_3000_on_deg: float | None = _number(-30, 80, "light at 3,000 rpm, hose on [° BTDC]")
    mark: MarkWords | None = _choice("the mark under the light, at idle")
    mark_wander_deg: float | None = _number(0, 30, "how far the mark wanders at idle, end to end [deg]")
    cold_start: StartWords | None = _choice("starting cold")
    cold_start_air_c: float | None = _number(-30, 50, "air at that cold start [°C]")
    second_start: StartWords | None = _choice("starting cold in other air")
    second_start_air_c: float | None = _number(-30, 50, "air at that other cold start [°C]")
    warm_start: StartWords | None = _choice("starting warm")
    cranks: CrankWords | None = _choice("how the starter turns it")
    runs: RunWords | None = _choice("how the idle sounds")
    ping: PingWords | None = _choice("ping under load")
    misses: MissWords | None = _choice("misses")
    smoke: SmokeWords | None = _choice("smoke at the tailpipe, warm, at idle (or popping)")
    pull: PullWords | None = _choice("how it pulls")
    snap: SnapWords | None = _choice("needle at a snap of the throttle")
    findings: dict[str, FindingWords] = Field(default={}, title="what chosen tests found")
    sweep: tuple[SweepReading, ...] = Field(default=(), max_length=40, title="own sweep by light")
    gauge_error_inhg: float | None = _number(-5, 5, "the gauge shows too much by [inHg]")
    tachometer_error_rpm: float | None = _number(-300, 300, "the tachometer shows too much by [rpm]")
    light_error_deg: float | None = _number(-20, 20, "the mark shows too much by [°] (piston stop)")

    def light_deg(self, speed: str, hose: Literal["off", "on"]) -> float | None:
        """What the light showed at "idle", "1500", "2500" or "3000", hose "off" or "on" [crank deg]; None: not read."""
        return getattr(self, f"light_{speed}_{hose}_deg")


class Sections(Section):
    """All sections of one engine; `schema_version` is the form of its file."""

    schema_version: Literal[1] = 1
    identity: OwnedIdentity = OwnedIdentity()
    build: Build = Build()
    ignition: OwnedIgnition = OwnedIgnition()
    label: OwnedLabel = OwnedLabel()
    place: OwnedPlace = OwnedPlace()
    readings: OwnedReadings = OwnedReadings()

    @property
    def displacement_l(self) -> float | None:
        """Swept volume [litres], as written or from bore, stroke and cylinders; None where neither is known."""
        build = self.build
        if build.displacement_l is not None:
            return build.displacement_l
        if build.cylinders is None or build.bore_mm is None or build.stroke_mm is None:
            return None
        return swept_l(build.cylinders, build.bore_mm, build.stroke_mm)


def swept_l(cylinders: int, bore_mm: float, stroke_mm: float) -> float:
    """Swept volume of all cylinders [litres]."""
    return cylinders * math.pi / 4e6 * bore_mm**2 * stroke_mm
