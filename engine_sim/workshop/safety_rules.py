"""What may be done when: acts that a workshop stops because somebody could be hurt, and acts that cannot be done."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from engine_sim.physics.friction import WARM_C

from .controls import DRIVER_READY, LEAD_EARTHED, SNUG, STOP_IN

if TYPE_CHECKING:
    from engine_sim.model.card import EngineCard

REACH_IN = (
    "mark_body", "clamp", "distributor", "vacuum_hose", "idle_screw", "gauge_hose", "mixture_screw", "canister_screw",
)  # fmt: skip
ONLY_AT_REST = {
    "tachometer": "the tachometer lead goes on the coil's primary terminal on the points side, "
    "which gives a shock while the engine runs",
    "timing_light": "the light is clamped to a lead that carries the full voltage of the coil",
    "dwell_meter": "the meter's lead goes on the coil's primary terminal on the points side",
    "test_lamp": "the lamp's lead goes on the coil's primary terminal on the points side",
    "fuel_meter": "the fuel line is opened for the meter, and petrol that drips beside a running engine burns",
    "exhaust_probe": "the probe is strapped to the exhaust, which burns hands",
    "coil_lead": "the coil lead carries the full voltage of the coil",
    "spanner": "a turning crank throws a spanner",
    "crank_mark": "a crank is turned by hand only when it cannot turn by itself",
    "piston_stop": "a piston that meets a stop at speed breaks",
    "turn_to_stop": "a crank is turned by hand only when it cannot turn by itself",
    "turn_back_to_stop": "a crank is turned by hand only when it cannot turn by itself",
    "centre_mark": "the damper turns",
    "look_under_cap": "under the cap is the full voltage of the coil",
    "refit": "the distributor carries the full voltage of the coil, and its shaft turns",
    "point_gap": "the points carry the coil's current, and the cam turns",
    "springs": "the weights turn with the shaft",
    "weights_stop": "the weights turn with the shaft",
    "fuel": "petrol is never filled in beside a running or hot exhaust",
}
OPEN_LEAD = (
    "an open coil lead sparks to the nearest metal or hand, can light petrol vapour, and can destroy an electronic "
    "ignition"
)
FIRES_AT_LAMP = "each time the points open the coil fires"
COIL_FIRES = "when the points open, the coil fires and a charge left in a cylinder can throw the crank round"
OUT_OF_GEAR = ("park", "neutral")
TURNS_TO_STOP = ("turn_to_stop", "turn_back_to_stop")
HELD_BY_GEAR = ("park", "in gear")  # with the engine off; no other place holds a vehicle
FROM_THE_SEAT = (
    "brake", "gear", "driver", "helper", "throttle", "hold_speed", "ignition_switch", "starter", "stop", "snap",
    "wait_until_warm", "wait", "read_gauges", "route", "road_check", "begin",
)  # fmt: skip
WAIT_UNTIL_IT_STANDS = ("chocks", "driver", "starter")
SETTING_OFF = (("brake", "off"), ("gear", "drive"), ("gear", "reverse"), ("gear", "in gear"))
NOT_IN_GEAR = ("throttle", "snap", "hold_speed", "load_brake")  # what would push the vehicle against its brakes
ON_THE_ROAD_ALLOWED = ("stop", "read_gauges", "begin", "wait")


def unsafe(name: str, value: object, settings: Mapping, running: bool) -> str:
    """Why this act is stopped, in one plain sentence; empty where it is safe."""
    if name == "starter":
        return _unsafe_start(settings)
    if name == "chocks":
        return _unsafe_chocks(value, settings, running)
    if name == "driver":
        return _unsafe_to_get_out(value, settings, running)
    if not running:
        return _unsafe_at_rest(name, value, settings)
    if name in ONLY_AT_REST:
        return f"Stopped: {ONLY_AT_REST[name]}. Switch the engine off first."
    if name in ("gear", "brake", "ventilation", "fan_area", "helper"):
        return _unsafe_while_running(name, value, settings)
    if name in NOT_IN_GEAR and value != 0.0 and settings["gear"] not in OUT_OF_GEAR:
        return (
            "Stopped: the vehicle is in gear, and with the throttle open it pushes against its brakes and over its "
            "chocks. In gear leave the throttle closed; for more speed take it out of gear first."
        )
    if name in REACH_IN:
        return _unsafe_reach(settings)
    return ""


def _unsafe_start(settings: Mapping) -> str:
    if settings["gear"] not in OUT_OF_GEAR:
        return "Stopped: the vehicle is in gear and would move. Put it in park or neutral."
    if settings["brake"] != "on":
        return "Stopped: the parking brake is off and the vehicle could roll. Set the brake."
    if settings["chocks"] != "in place" and settings["driver"] != DRIVER_READY:
        return (
            "Stopped: no chocks at the wheels and nobody on the foot brake. A parking brake alone is not enough: put "
            "the chocks in place. To drive, take the driver's seat: everyone clear, foot on the brake."
        )
    if settings["piston_stop"] == STOP_IN:
        return (
            "Stopped: the piston stop is in cylinder one, and the starter would break the piston on it. Take the stop "
            "out, and put the plugs in."
        )
    if settings["spanner"] == "on":
        return "Stopped: the spanner is still on the crank and would be thrown. Take it off first."
    if settings["coil_lead"] == "out and open":
        return f"Stopped: {OPEN_LEAD}. Earth it, or put it back in the cap."
    if settings["ventilation"] != "on":
        return "Stopped: exhaust gas kills in a closed room. Switch the extraction on, or work outdoors."
    if settings["fan_area"] != "clear":
        return (
            "Stopped: nobody has looked for tools, leads, hair and sleeves near the fan. Check and clear the fan area."
        )
    return ""


def _held(settings: Mapping) -> bool:
    """Whether the vehicle, its engine off, is held by its parking brake and its gearbox."""
    return settings["brake"] == "on" and settings["gear"] in HELD_BY_GEAR


def _unsafe_chocks(value, settings: Mapping, running: bool) -> str:
    if value == settings["chocks"]:  # nobody has to touch them
        return ""
    if running:
        return "Stopped: nobody touches a chock while the engine runs. Switch it off first."
    if value == "away" and not _held(settings):
        return (
            "Stopped: without chocks this vehicle could roll. Parking brake on, and park or a gear in, before the "
            "chocks are taken away."
        )
    return ""


def _unsafe_to_get_out(value, settings: Mapping, running: bool) -> str:
    if value == DRIVER_READY or settings["chocks"] == "in place":
        return ""
    if running:
        return "Stopped: the engine is running without chocks. Keep your foot on the brake, and switch off first."
    if settings["driver"] == DRIVER_READY and not _held(settings):
        return (
            "Stopped: when you let go of the foot brake this vehicle could roll. Parking brake on, and park or a gear "
            "in, before you get out."
        )
    return ""


def _unsafe_at_rest(name: str, value, settings: Mapping) -> str:
    """What could let the vehicle roll, or the coil fire as the points open, with the engine standing still."""
    on, lead = settings["ignition_switch"] == "on", settings["coil_lead"]
    if name in ("gear", "brake"):
        return _unsafe_to_let_roll(name, value, settings)
    if name == "test_lamp" and value == "on" and lead != LEAD_EARTHED:
        return f"Stopped: {FIRES_AT_LAMP}. Take the coil lead out of the cap and earth it before the lamp goes on."
    if name == "ignition_switch" and value == "on":
        return _unsafe_ignition(settings)
    if name == "spanner" and on and lead != LEAD_EARTHED:
        return f"Stopped: the ignition is on, and {COIL_FIRES}. Switch it off first."
    return ""


def _unsafe_to_let_roll(name: str, value, settings: Mapping) -> str:
    """A vehicle without chocks and without a driver needs its brake or its gearbox."""
    if settings["chocks"] == "in place" or settings["driver"] == DRIVER_READY:
        return ""
    left = {**settings, name: value}
    if left["brake"] == "on" or left["gear"] in HELD_BY_GEAR:
        return ""
    return "Stopped: nothing would hold the vehicle. Set the parking brake first, and put the chocks in place."


def _unsafe_ignition(settings: Mapping) -> str:
    if settings["coil_lead"] == "out and open":
        return f"Stopped: {OPEN_LEAD}. Earth it, or put it back in the cap."
    if settings["coil_lead"] == LEAD_EARTHED:
        return ""
    if settings["spanner"] == "on":
        return f"Stopped: the spanner is on the crank, and {COIL_FIRES}. Take the coil lead out and earth it first."
    if settings["test_lamp"] == "on":
        return f"Stopped: {FIRES_AT_LAMP}. Take the coil lead out of the cap and earth it first."
    return ""


def _unsafe_while_running(name: str, value, settings: Mapping) -> str:
    if name == "gear" and value not in OUT_OF_GEAR:
        if value == "in gear":
            return "Stopped: with a gear in the vehicle would leap as the clutch is let go. Leave the lever in neutral."
        if settings["helper"] != "at the brake":
            return (
                "Stopped: in gear with the engine running only with a second person on the brake. "
                "Alone, stay in park or neutral."
            )
        if any(settings[opens] for opens in ("throttle", "hold_speed", "load_brake")):
            return (
                "Stopped: the throttle is open, and in gear the vehicle would leap. Close it before you put it in gear."
            )
    if name == "helper" and value == "nobody" and settings["gear"] not in OUT_OF_GEAR:
        return "Stopped: the vehicle is in gear. The second person stays on the brake until it is out of gear."
    if name == "brake" and value == "off":
        return "Stopped: the engine is running. Leave the parking brake on."
    if name == "ventilation" and value == "off":
        return "Stopped: the engine is running. Leave the extraction on."
    return ""


def _unsafe_reach(settings: Mapping) -> str:
    if settings["chocks"] != "in place":
        return (
            "Stopped: you would reach into a running engine with no chocks at the wheels. Switch it off, and put the "
            "chocks in place."
        )
    if settings["fan_area"] != "clear":
        return "Stopped: the fan area has not been checked. Check and clear it before you reach in."
    return ""


def impossible(
    name: str, value: object, settings: Mapping, running: bool, coolant_c: float, on_road: bool, card: EngineCard
) -> str:
    """Why this act cannot be done now, in one sentence; empty where it can."""
    if on_road and name not in ON_THE_ROAD_ALLOWED:
        return "You are on the road: wait until the drive is over."
    if settings["driver"] == DRIVER_READY and name not in FROM_THE_SEAT:
        return "You are in the driver's seat with a foot on the brake: get out first (Driver: not seated)."
    if name in ("distributor", "refit") and settings["clamp"] == "tight":
        return "The clamp is tight: the distributor does not turn. Loosen the clamp just enough."
    if name == "refit" and settings["clamp"] == SNUG:
        return "The clamp still holds the body: loosen it before the distributor is lifted."
    if name == "mark_body" and settings["marked_at"] is not None:
        return "Body and block are marked already: a second mark would be taken for the first."
    if running and settings["ignition_switch"] == "off" and (name in ONLY_AT_REST or name in WAIT_UNTIL_IT_STANDS):
        return "The engine is still turning: wait until it stands."
    if not running and settings["ignition_switch"] == "on" and _needs_ignition_off(name, settings):
        return "The ignition is on: switch it off first."
    if running and settings["chocks"] == "away" and (name, value) in SETTING_OFF:
        return "The driver releases the brake and drives off when you press Road check."
    if name in TURNS_TO_STOP:
        return _no_way_to_the_stop(settings)
    if name == "crank_mark" and settings["piston_stop"] == STOP_IN:
        return "The piston stop is in cylinder one: the crank turns from one touch to the other, and no further."
    if name == "crank_mark" and settings["spanner"] != "on":
        return "The crank does not turn without a spanner: put the spanner on the crank first."
    if name == "ignition_switch" and running:
        return "The engine is running: it is stopped with Switch off."
    if name == "starter" and running:
        return "The engine is running already."
    if name in ("snap", "wait_until_warm", "road_check", "load_brake") and not running and value != 0.0:
        return "The engine is not running: start it first."
    if name == "road_check":
        return _not_roadworthy(settings, coolant_c)
    return _not_on_this_vehicle(name, value, card)


def _no_way_to_the_stop(settings: Mapping) -> str:
    """Why the crank cannot be turned up against a stop; empty where it can."""
    if settings["piston_stop"] != STOP_IN:
        return "There is no stop for the piston to meet: screw it into cylinder one first."
    if settings["spanner"] != "on":
        return "The crank does not turn without a spanner: put the spanner on the crank first."
    if settings["gear"] == "in gear":
        return "In gear the crank would turn the wheels, too: put the lever in neutral first."
    return ""


def _needs_ignition_off(name: str, settings: Mapping) -> bool:
    """Whether this waits until the ignition of a standing engine is off; with the coil lead earthed crank and body are
    turned under the lamp, and what could throw a spanner is stopped as unsafe instead."""
    if settings["coil_lead"] != LEAD_EARTHED:
        return name != "spanner" and (name in ONLY_AT_REST or name == "distributor")
    return name in ONLY_AT_REST and name != "crank_mark"


def _not_on_this_vehicle(name: str, value, card: EngineCard) -> str:
    """Why this vehicle does not have what the act needs; empty where it has."""
    if name == "gear":
        return no_such_gear(value, card)
    if name in ("point_gap", "test_lamp") and card.ignition.trigger == "electronic":
        return "This engine has an electronic trigger: there are no points to set or to put a lamp across."
    if name == "canister_screw" and not card.vacuum_advance.adjustable:
        return "There is no screw in this vacuum unit: it can only be replaced."
    return ""


def no_such_gear(place: str, card: EngineCard) -> str:
    """Why the gearbox has no such place; empty where it has."""
    if card.drive.transmission == "manual" and place in ("park", "reverse", "drive"):
        return "This vehicle has a gear lever and a clutch: it can be in gear or in neutral."
    if card.drive.transmission == "automatic" and place == "in gear":
        return "This vehicle has a selector: park, reverse, neutral or drive."
    return ""


def _not_roadworthy(settings: Mapping, coolant_c: float) -> str:
    if settings["clamp"] != "tight":
        return f"The clamp is {settings['clamp']}: the setting would wander on the road. Tighten the clamp first."
    if settings["chocks"] != "away":
        return (
            "The chocks are still at the wheels. Switch off, put it in park or in a gear, take the chocks away, sit "
            "down with everyone clear and a foot on the brake, and start again."
        )
    if settings["driver"] != DRIVER_READY:
        return "Nobody is in the driver's seat. Everyone clear, foot on the brake; then drive."
    if settings["gear"] not in OUT_OF_GEAR:
        return "Take the vehicle out of gear; the driver takes over from there."
    if coolant_c < WARM_C:
        return "The engine is still cold: a road check tells nothing before it is warm."
    return ""
