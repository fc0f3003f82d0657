"""The engine card: one TOML file that describes one engine, validated, with errors that teach.

The fields speak the units of the workshop, and carry them in their names. Importing this module imports pydantic;
`engine_sim` does so only when a card is first wanted.
"""

from __future__ import annotations

import difflib
import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from engine_sim.errors import CardError
from engine_sim.physics.distributor import Weights
from engine_sim.physics.units import SECONDS_PER_MINUTE

FASTEST_RPM = 6000.0  # up to here every engine must breathe
LEAST_CONVERTER_DRAG_NM = 5.0  # at 1,000 rpm, that carries the lightest vehicle
LARGEST_BREATHING_LOSS = 0.6  # share of the manifold's pressure that may be lost at that speed


def _within(low: float, high: float) -> Any:
    return Field(ge=low, le=high, allow_inf_nan=False, strict=True)


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Identity(_Section):
    """What stands on the nameplate."""

    name: Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{2,40}$")]
    title: Annotated[str, Field(min_length=3, max_length=80)]
    story: Annotated[str, Field(min_length=3, max_length=600)]


class Block(_Section):
    """Size and shape of the engine."""

    cylinders: Literal[4, 6, 8]
    bore_mm: Annotated[float, _within(50, 130)]
    stroke_mm: Annotated[float, _within(50, 130)]
    rod_length_mm: Annotated[float, _within(80, 250)]
    compression_ratio: Annotated[float, _within(5, 13)]
    wall_temperature_c: Annotated[float, _within(80, 260)]


class Valves(_Section):
    """Valve timing, and how much the overlap lets exhaust back in."""

    intake_closes_deg_abdc: Annotated[float, _within(20, 90)]
    exhaust_opens_deg_bbdc: Annotated[float, _within(20, 90)]
    overlap_factor_deg_m: Annotated[float, _within(0.05, 2.5)]


class Burn(_Section):
    """The two constants that place this chamber's burn: calibrations, with their reason."""

    development_constant: Annotated[float, _within(3000, 16000)]
    rapid_constant: Annotated[float, _within(600, 5000)]
    reason: Annotated[str, Field(min_length=20)]


class Breathing(_Section):
    """Throttle, manifold and ports.

    A `crankcase_valve` (PCV) leads the crankcase's vapours into the manifold; the air that comes with them at idle is
    part of `closed_throttle_area_mm2`. An engine without one, as older ones are, breathes through a tube.
    """

    manifold_volume_l: Annotated[float, _within(0.5, 15)]
    throttle_bore_mm: Annotated[float, _within(20, 60)]
    throttle_bores: Literal[1, 2, 4]
    closed_throttle_area_mm2: Annotated[float, _within(1, 60)]
    idle_screw_area_mm2_per_turn: Annotated[float, _within(1, 30)]
    loss_at_10_m_s: Annotated[float, _within(0, 0.4)]
    charge_heating_k: Annotated[float, _within(0, 60)]
    crankcase_valve: bool = False


class Mixture(_Section):
    """Equivalence ratio (1 is chemically correct, above is rich) as the carburettor meters it.

    `spread_between_cylinders` is its standard deviation from cylinder to cylinder: one carburettor does not feed all
    runners alike. 0.02 is common practice.
    """

    idle_phi: Annotated[float, _within(0.8, 1.3)]
    cruise_phi: Annotated[float, _within(0.8, 1.3)]
    power_phi: Annotated[float, _within(0.8, 1.3)]
    jetted_altitude_ft: Annotated[float, _within(0, 10000)]
    mixture_screw_turns: Annotated[float, _within(0.5, 3)]
    phi_per_turn: Annotated[float, _within(0.03, 0.3)]
    spread_between_cylinders: Annotated[float, _within(0.0, 0.1)] = 0.02


class Losses(_Section):
    """Friction, and the accessories that the engine drives."""

    friction_factor: Annotated[float, _within(0.6, 1.5)]
    accessories_nm: Annotated[float, _within(0, 30)]
    reason: Annotated[str, Field(min_length=20)]


class DistributorCard(_Section):
    """Sense of rotation, drive gear, and the two weights and two springs of the centrifugal advance.

    The stop is in crank degrees, `weight_lever_mm` is the travel of a weight for each radian of its cam.
    """

    rotor_turns: Literal["clockwise", "anticlockwise"]
    gear_teeth: Annotated[int, Field(ge=9, le=20, strict=True)]
    weight_g: Annotated[float, _within(5, 60)]
    weight_radius_mm: Annotated[float, _within(8, 35)]
    weight_lever_mm: Annotated[float, _within(8, 30)]
    first_spring_n_per_mm: Annotated[float, _within(0.3, 30)]
    first_spring_preload_n: Annotated[float, _within(0, 30)]
    second_spring_n_per_mm: Annotated[float, _within(0, 40)]
    second_spring_slack_mm: Annotated[float, _within(0, 6)]
    stop_deg: Annotated[float, _within(0, 40)]

    @property
    def weights(self) -> Weights:
        """The weights and springs in SI units."""
        return Weights(
            mass_kg=self.weight_g / 1e3,
            radius_m=self.weight_radius_mm / 1e3,
            lever_m=self.weight_lever_mm / 1e3,
            first_spring_n_m=self.first_spring_n_per_mm * 1e3,
            first_preload_n=self.first_spring_preload_n,
            second_spring_n_m=self.second_spring_n_per_mm * 1e3,
            second_slack_m=self.second_spring_slack_mm / 1e3,
            stop_deg=self.stop_deg,
        )


class IgnitionCard(_Section):
    """What breaks the coil's current, the coil, and the plugs. Dwell is in distributor degrees.

    An electronic trigger holds its dwell by itself and has no gap to set.
    """

    trigger: Literal["breaker points", "electronic"]
    dwell_deg: Annotated[float, _within(10, 70)]
    point_gap_mm: Annotated[float, _within(0.2, 0.8)] | None = None
    plug_gap_mm: Annotated[float, _within(0.4, 1.5)]
    coil_resistance_ohm: Annotated[float, _within(0.4, 6)]
    coil_inductance_mh: Annotated[float, _within(2, 20)]

    @model_validator(mode="after")
    def _points_have_a_gap(self):
        if (self.trigger == "breaker points") != (self.point_gap_mm is not None):
            raise ValueError("point_gap_mm belongs to breaker points, and to them alone: give or remove it")
        return self


class VacuumAdvance(_Section):
    """The vacuum unit, in crank degrees, and the port that feeds it."""

    source: Literal["manifold", "ported"]
    start_inhg: Annotated[float, _within(1, 15)]
    full_inhg: Annotated[float, _within(3, 22)]
    degrees: Annotated[float, _within(0, 35)]
    adjustable: bool

    @model_validator(mode="after")
    def _in_order(self):
        if self.full_inhg <= self.start_inhg:
            raise ValueError("full_inhg must lie above start_inhg")
        return self


class Setting(_Section):
    """What the maker's label of this engine says, and the fuel it is given."""

    idle_rpm: Annotated[float, _within(400, 1100)]
    speed_drop_rpm: Annotated[float, _within(20, 200)]
    fuel_octane_ron: Annotated[float, _within(60, 110)]
    fuel_sensitivity: Annotated[float, _within(0, 15)]
    label_base_timing_deg: Annotated[float, _within(-5, 20)]


class DriveTrain(_Section):
    """Flywheel, gearbox and vehicle, for the dynamics and the road check.

    The converter's drag is what it takes from the engine of a standing vehicle in drive, and so says how fast that
    engine turns with the throttle wide open.
    """

    transmission: Literal["automatic", "manual"]
    inertia_kg_m2: Annotated[float, _within(0.03, 2)]
    converter_drag_nm_at_1000_rpm: Annotated[float, _within(0, 120)]
    vehicle_mass_kg: Annotated[float, _within(400, 12000)]
    top_gear_m_per_rev: Annotated[float, _within(0.2, 1.5)]
    middle_gear_ratio: Annotated[float, _within(1.1, 3)]
    low_gear_ratio: Annotated[float, _within(1.5, 6)] = 2.5
    road_load_n: Annotated[float, _within(50, 3000)]
    road_load_n_s2_m2: Annotated[float, _within(0.1, 10)]

    @model_validator(mode="after")
    def _can_drive(self):
        if self.transmission == "automatic" and self.converter_drag_nm_at_1000_rpm < LEAST_CONVERTER_DRAG_NM:
            raise ValueError(
                f"converter_drag_nm_at_1000_rpm is {self.converter_drag_nm_at_1000_rpm:g}; the converter of an "
                f"automatic takes {LEAST_CONVERTER_DRAG_NM:g} or more, or the vehicle would not move"
            )
        if self.transmission == "automatic" and self.low_gear_ratio <= self.middle_gear_ratio:
            raise ValueError(
                f"low_gear_ratio is {self.low_gear_ratio:g} and middle_gear_ratio {self.middle_gear_ratio:g}; the low "
                "gear of an automatic is the larger number"
            )
        return self


class EngineCard(_Section):
    """A whole engine, as its file describes it. `digest` is 16 hexadecimal digits of its contents."""

    identity: Identity
    block: Block
    valves: Valves
    burn: Burn
    breathing: Breathing
    mixture: Mixture
    losses: Losses
    distributor: DistributorCard
    ignition: IgnitionCard
    vacuum_advance: VacuumAdvance
    setting: Setting
    drive: DriveTrain

    @model_validator(mode="after")
    def _can_breathe(self):
        piston_speed = 2.0 * self.block.stroke_mm / 1e3 * FASTEST_RPM / SECONDS_PER_MINUTE
        loss = self.breathing.loss_at_10_m_s * (piston_speed / 10.0) ** 2
        if loss > LARGEST_BREATHING_LOSS:
            raise ValueError(
                f"breathing.loss_at_10_m_s is {self.breathing.loss_at_10_m_s:g}, which with this stroke "
                f"takes {loss:.0%} of the manifold's pressure at {FASTEST_RPM:g} rpm; at most "
                f"{LARGEST_BREATHING_LOSS:.0%} is allowed: make it smaller"
            )
        return self

    @property
    def name(self) -> str:
        """The card's short name, the stem of its file."""
        return self.identity.name

    @property
    def title(self) -> str:
        """The name that people read."""
        return self.identity.title

    @property
    def digest(self) -> str:
        """16 hexadecimal digits that change whenever any field of the card changes."""
        return hashlib.sha256(self.model_dump_json().encode()).hexdigest()[:16]

    @property
    def displacement_l(self) -> float:
        """Swept volume of the whole engine [litres]."""
        return self.block.cylinders * 3.141592653589793 / 4e6 * self.block.bore_mm**2 * self.block.stroke_mm

    @property
    def nameplate(self) -> dict[str, str]:
        """What a person may read on the engine and its label, line by line."""
        block, setting, ignition = self.block, self.setting, self.ignition
        # An electronic trigger has neither dwell nor gap to set, so its plate names neither.
        points = (
            f", dwell {ignition.dwell_deg:g}°, points {ignition.point_gap_mm:g} mm" if ignition.point_gap_mm else ""
        )
        return {
            "Engine": self.title,
            "Cylinders": f"{block.cylinders}, {self.displacement_l:.1f} litres",
            "Compression": f"{block.compression_ratio:.1f} : 1",
            "Rotor turns": f"{self.distributor.rotor_turns}, seen from above",
            "Base timing": f"{setting.label_base_timing_deg:g}° before top centre, hose off and plugged",
            "Idle speed": f"{setting.idle_rpm:g} rpm, warm, in neutral",
            "Speed drop": f"{setting.speed_drop_rpm:g} rpm below the peak",
            "Centrifugal advance": f"begins at about {round(self.distributor.weights.start_rpm, -1):g} rpm",
            "Ignition": f"{ignition.trigger}{points}; plugs {ignition.plug_gap_mm:g} mm",
            "Vacuum advance": f"from a {self.vacuum_advance.source} source",
            "Fuel": f"{setting.fuel_octane_ron:g} RON",
            "Transmission": self.drive.transmission,
        }


def load_card(path: str | Path) -> EngineCard:
    """Read and validate one engine card.

    Raises CardError that names the file, every wrong field, what was found there and what is allowed.

    >>> import engine_sim
    >>> card = engine_sim.load_card("course/engines/farm_runabout_four.toml")
    >>> card.block.cylinders, card.ignition.trigger
    (4, 'breaker points')
    """
    path = Path(path)
    try:
        content = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise CardError(f"There is no engine card {path.name}: give the path of a .toml file.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise CardError(f"{path.name} is not readable as TOML ({error}): correct that line and try again.") from None
    except RecursionError:
        raise CardError(f"{path.name} is not readable as TOML: it holds lists in lists without end.") from None
    except OSError as error:
        raise CardError(f"{path.name} cannot be read ({error.strerror}): a file that you may read is wanted.") from None
    return card_from(content, path.name)


def card_from(content: dict, name: str = "the engine card") -> EngineCard:
    """Validate a card that was read already. Raises CardError as `load_card` does."""
    try:
        return EngineCard.model_validate(content)
    except ValidationError as error:
        raise CardError("\n".join(_sentence(item, name) for item in error.errors())) from None


def _sentence(item: Mapping[str, Any], name: str) -> str:
    where = ".".join(str(part) for part in item["loc"])
    found, context = item.get("input"), item.get("ctx", {})
    if item["type"] == "missing":
        return f"{name}: {where} is missing; {_wanted(item['loc'])}."
    if item["type"] == "extra_forbidden":
        return f"{name}: there is no field {where}; {_meant(item['loc'])}."
    if item["type"] == "value_error":
        return f"{name}: {f'{where}: ' if where else ''}{context.get('error', item['msg'])}."
    return f"{name}: {where} is {found!r}; {_wanted(item['loc'])}."


def _section_of(location: tuple) -> type[BaseModel]:
    model: type[BaseModel] = EngineCard
    for part in location[:-1]:
        annotation = model.model_fields[part].annotation if part in model.model_fields else None
        if not (isinstance(annotation, type) and issubclass(annotation, BaseModel)):
            break
        model = annotation
    return model


def _wanted(location: tuple) -> str:
    """What a field may hold, in words."""
    info = _section_of(location).model_fields.get(str(location[-1])) if location else None
    if info is None:
        return "a table of fields is wanted"
    limits = {kind: getattr(item, kind) for item in info.metadata for kind in ("ge", "le") if hasattr(item, kind)}
    if "ge" in limits and "le" in limits:
        return f"a number from {limits['ge']:g} to {limits['le']:g} is allowed (the unit stands in the field's name)"
    if info.annotation is bool:
        return "true or false is wanted"
    choices = getattr(info.annotation, "__args__", None)
    if choices:
        return f"one of {', '.join(map(str, choices))} is allowed"
    if isinstance(info.annotation, type) and issubclass(info.annotation, BaseModel):
        return f"a section [{location[-1]}] with {', '.join(info.annotation.model_fields)} is wanted"
    return _text_wanted(info)


def _text_wanted(info) -> str:
    """What a text may hold, in words."""
    rules = {
        kind: getattr(item, kind)
        for item in info.metadata
        for kind in ("min_length", "max_length", "pattern")
        if getattr(item, kind, None) is not None
    }
    if "pattern" in rules:
        return "a short name in small letters, digits and underscores is wanted, a letter first"
    least, most = rules["min_length"], rules.get("max_length")
    return f"a text of {f'{least} to {most}' if most else f'at least {least}'} characters is wanted"


def _meant(location: tuple) -> str:
    """The likeliest right name for a field that does not exist: by its beginning (a wrong unit), then by spelling."""
    model, wrong = _section_of(location), str(location[-1])
    stem = wrong.split("_")[0]
    same_start = [name for name in model.model_fields if name.split("_")[0] == stem]
    close = difflib.get_close_matches(wrong, model.model_fields, n=1, cutoff=0.7) or same_start[:1]
    allowed = f"allowed are {', '.join(model.model_fields)}"
    return f"was {close[0]} meant? ({allowed})" if close else allowed
