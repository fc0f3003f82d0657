"""A simulated carburettor engine with a distributor: the only public door.

Names are loaded when they are first used, so that importing the package costs little more than importing numpy.
"""

import importlib

_HOME = {
    "Act": "session",
    "AsFound": "population",
    "CLEAR_PING": "instruments",
    "CRANK_AT_MOST_S": "session",
    "TRACE_OF_PING": "instruments",
    "CONTROLS": "controls",
    "CardError": "errors",
    "Conditions": "conditions",
    "CycleTrace": "cycle",
    "Control": "controls",
    "ControlError": "errors",
    "CylinderHealth": "health",
    "DRIVER_READY": "controls",
    "Draw": "population",
    "Engine": "engine",
    "EngineCard": "card",
    "Event": "evidence",
    "Evidence": "evidence",
    "EvidenceError": "errors",
    "EvidenceWriter": "evidence",
    "FAULTS": "faults",
    "Fault": "faults",
    "Finding": "inspection",
    "FullThrottle": "states",
    "Header": "evidence",
    "Health": "health",
    "INSPECTIONS": "inspections",
    "IdleTable": "idle_table",
    "IdleState": "states",
    "Inspection": "inspection",
    "LARGEST_FILE_BYTES": "evidence",
    "LEAD_EARTHED": "controls",
    "LearnersEngine": "population",
    "LogLine": "session",
    "MODEL_VERSION": "evidence",
    "MethodResult": "procedure",
    "OnTheStand": "inspection",
    "OperatingPoints": "states",
    "OutsideValidity": "errors",
    "PATTERNS": "faults",
    "PA_PER_INHG": "units",
    "Readings": "session",
    "SAMPLE_EVERY_TICKS": "trajectory",
    "SOUND_PATTERN": "faults",
    "SCHEMA_VERSION": "evidence",
    "ROUTES": "road",
    "SEA_LEVEL_DAY": "conditions",
    "SOUND": "health",
    "Session": "session",
    "TICK_S": "dynamics",
    "Trajectory": "trajectory",
    "TimingCourseError": "errors",
    "fault_named": "faults",
    "inspection_named": "inspections",
    "learners_engine": "population",
    "load_card": "card",
    "peak_and_back_off": "procedure",
    "ping_share": "knock",
    "published": "sources",
    "read_evidence": "evidence",
    "replay": "session",
    "standard_pressure_pa": "atmosphere",
    "WarmIdle": "engine",
    "usual_screw": "population",
    "value_text": "sources",
    "weights_from": "workshop",
    "FUELS": "workshop",
    "SPRING_STIFFNESS": "workshop",
    "antiknock_index": "fuel",
    "octane_in_use": "fuel",
    "citation_text": "sources",
}
__all__ = sorted(_HOME)


def __getattr__(name):
    if name not in _HOME:
        raise AttributeError(f"engine_sim has no '{name}'; it offers {', '.join(__all__)}")
    value = getattr(importlib.import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value
