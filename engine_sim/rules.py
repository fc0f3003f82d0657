"""What may be done when: acts that a workshop stops because somebody could be hurt, and acts that cannot be done."""

from __future__ import annotations

from collections.abc import Mapping

from .friction import WARM_C

REACH_IN = ("distributor", "clamp", "vacuum_hose", "idle_screw", "gauge_hose")
ON_THE_ROAD_ALLOWED = ("stop", "read_gauges", "begin", "wait")


def unsafe(name: str, value, settings: Mapping, running: bool) -> str:
    """Why this act is stopped, in one plain sentence; empty where it is safe."""
    if name == "starter":
        return _unsafe_start(settings)
    if not running:
        return ""
    if name == "tachometer":
        return "Stopped: the tachometer lead goes on and off at the high-voltage side. Switch the engine off first."
    if name in ("gear", "brake", "ventilation", "fan_area"):
        return _unsafe_while_running(name, value)
    if name in REACH_IN:
        return _unsafe_reach(settings)
    return ""


def _unsafe_start(settings: Mapping) -> str:
    if settings["gear"] not in ("park", "neutral"):
        return "Stopped: the selector is in gear and the vehicle would move. Put it in park or neutral."
    if settings["brake"] != "on":
        return "Stopped: the parking brake is off and the vehicle could roll. Set the brake."
    if settings["chocks"] != "in place":
        return "Stopped: no chocks at the wheels. A brake alone is not enough: put the chocks in place."
    if settings["ventilation"] != "on":
        return "Stopped: exhaust gas kills in a closed room. Switch the extraction on, or work outdoors."
    if settings["fan_area"] != "clear":
        return (
            "Stopped: nobody has looked for tools, leads, hair and sleeves near the fan. Check and clear the fan area."
        )
    return ""


def _unsafe_while_running(name: str, value) -> str:
    if name == "gear" and value in ("reverse", "drive"):
        return (
            "Stopped: in gear with the engine running only with a second person on the brake. "
            "This bench is worked alone: stay in park or neutral."
        )
    if name == "brake" and value == "off":
        return "Stopped: the engine is running. Leave the parking brake on."
    if name == "ventilation" and value == "off":
        return "Stopped: the engine is running. Leave the extraction on."
    return ""


def _unsafe_reach(settings: Mapping) -> str:
    if settings["chocks"] != "in place":
        return "Stopped: you would reach into a running engine with no chocks at the wheels. Put the chocks in place."
    if settings["fan_area"] != "clear":
        return "Stopped: the fan area has not been checked. Check and clear it before you reach in."
    return ""


def impossible(name: str, value, settings: Mapping, running: bool, coolant_c: float, on_road: bool) -> str:
    """Why this act cannot be done now, in one sentence; empty where it can."""
    if on_road and name not in ON_THE_ROAD_ALLOWED:
        return "You are on the road: wait until the drive is over."
    if name == "distributor" and settings["clamp"] == "tight":
        return "The clamp is tight: the distributor does not turn. Loosen the clamp just enough."
    if name == "starter" and running:
        return "The engine is running already."
    if name in ("snap", "wait_until_warm", "road_check") and not running:
        return "The engine is not running: start it first."
    if name == "road_check":
        return _not_roadworthy(settings, coolant_c)
    return ""


def _not_roadworthy(settings: Mapping, coolant_c: float) -> str:
    if settings["clamp"] != "tight":
        return "The clamp is loose: the setting would wander on the road. Tighten the clamp first."
    if settings["chocks"] != "away":
        return "The chocks are still at the wheels: take them away for the road check."
    if settings["gear"] != "park":
        return "Put the selector in park; the driver takes over from there."
    if coolant_c < WARM_C:
        return "The engine is still cold: a road check tells nothing before it is warm."
    return ""
