"""A simulated carburettor engine with a distributor: the only public door.

Names are loaded when they are first used, so that importing the package costs little more than importing numpy.
"""

import importlib

_HOME = {
    "Act": "workshop.session",
    "AsFound": "model.population",
    "CLEAR_PING": "workshop.instruments",
    "CRANK_AT_MOST_S": "workshop.session",
    "TRACE_OF_PING": "workshop.instruments",
    "CONTROLS": "workshop.controls",
    "CardError": "errors",
    "Conditions": "model.conditions",
    "CycleTrace": "model.cycle",
    "Control": "workshop.controls",
    "ControlError": "errors",
    "CylinderHealth": "model.wear",
    "DRIVER_READY": "workshop.controls",
    "Draw": "model.population",
    "Engine": "model.engine",
    "EngineCard": "model.card",
    "Event": "workshop.evidence",
    "Evidence": "workshop.evidence",
    "EvidenceError": "errors",
    "EvidenceWriter": "workshop.evidence",
    "FAULTS": "diagnosis.faults",
    "Fault": "diagnosis.faults",
    "Finding": "diagnosis.inspection",
    "FullThrottle": "model.results",
    "Header": "workshop.evidence",
    "Health": "model.wear",
    "INSPECTIONS": "diagnosis.inspections",
    "IdleTable": "model.idle_table",
    "IdleState": "model.results",
    "Inspection": "diagnosis.inspection",
    "LARGEST_FILE_BYTES": "workshop.evidence",
    "LEAD_EARTHED": "workshop.controls",
    "LearnersEngine": "model.population",
    "LogLine": "workshop.session",
    "MODEL_VERSION": "version",
    "MethodResult": "workshop.timing_method",
    "OnTheStand": "diagnosis.inspection",
    "OperatingPoints": "model.results",
    "OutsideValidity": "errors",
    "PATTERNS": "diagnosis.faults",
    "PA_PER_INHG": "physics.units",
    "Readings": "workshop.session",
    "SAMPLE_EVERY_TICKS": "workshop.trajectory",
    "SOUND_PATTERN": "diagnosis.faults",
    "SCHEMA_VERSION": "workshop.evidence",
    "ROUTES": "workshop.road_check",
    "SEA_LEVEL_DAY": "model.conditions",
    "SOUND": "model.wear",
    "Session": "workshop.session",
    "TICK_S": "model.dynamics",
    "Trajectory": "workshop.trajectory",
    "TimingCourseError": "errors",
    "fault_named": "diagnosis.faults",
    "inspection_named": "diagnosis.inspections",
    "learners_engine": "model.population",
    "load_card": "model.card",
    "peak_and_back_off": "workshop.timing_method",
    "ping_share": "physics.knock",
    "published": "sources",
    "read_evidence": "workshop.evidence",
    "replay": "workshop.session",
    "standard_pressure_pa": "physics.atmosphere",
    "WarmIdle": "model.engine",
    "usual_screw": "model.population",
    "value_text": "sources",
    "weights_from": "workshop.adjustments",
    "FUELS": "workshop.adjustments",
    "SPRING_STIFFNESS": "workshop.adjustments",
    "antiknock_index": "physics.fuel",
    "octane_in_use": "physics.fuel",
    "citation_text": "sources",
}
__all__ = sorted(_HOME)


def __getattr__(name):
    if name not in _HOME:
        raise AttributeError(f"engine_sim has no '{name}'; it offers {', '.join(__all__)}")
    value = getattr(importlib.import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value
