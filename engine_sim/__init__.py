"""A simulated carburettor engine with a distributor: the only public door.

Names are loaded when they are first used, so that importing the package costs little more than importing numpy.
`__init__.pyi` shows the same names to editors and type checkers; a test compares the two.
"""

import importlib

_MODULES = {
    "errors": (
        "CardError",
        "ControlError",
        "EvidenceError",
        "OutsideValidity",
        "TimingCourseError",
    ),
    "version": ("MODEL_VERSION",),
    "sources": (
        "citation_text",
        "published",
        "value_text",
    ),
    "diagnosis.faults": (
        "FAULTS",
        "Fault",
        "PATTERNS",
        "SOUND_PATTERN",
        "fault_named",
    ),
    "diagnosis.inspection": (
        "Finding",
        "Inspection",
        "OnTheStand",
    ),
    "diagnosis.inspections": (
        "INSPECTIONS",
        "inspection_named",
    ),
    "diagnosis.told_apart": ("tells_apart",),
    "model.card": (
        "EngineCard",
        "load_card",
    ),
    "model.conditions": (
        "Conditions",
        "SEA_LEVEL_DAY",
    ),
    "model.cycle": ("CycleTrace",),
    "model.dynamics": ("TICK_S",),
    "model.engine": (
        "Engine",
        "WarmIdle",
    ),
    "model.idle_table": ("IdleTable",),
    "model.idle_trial": ("engine_that_idles",),
    "model.population": (
        "AsFound",
        "Draw",
        "LearnersEngine",
        "folded_name",
        "learners_engine",
        "usual_screw",
    ),
    "model.results": (
        "FullThrottle",
        "IdleState",
        "OperatingPoints",
    ),
    "model.start_trial": (
        "StartTrial",
        "start_trial",
    ),
    "model.wear": (
        "CylinderWear",
        "SOUND",
        "Wear",
    ),
    "physics.atmosphere": ("standard_pressure_pa",),
    "physics.fuel": (
        "antiknock_index",
        "octane_in_use",
    ),
    "physics.knock": ("ping_share",),
    "physics.units": ("PA_PER_INHG",),
    "workshop.adjustments": (
        "FUELS",
        "SPRING_STIFFNESS",
        "weights_from",
    ),
    "workshop.controls": (
        "CONTROLS",
        "Control",
        "DRIVER_READY",
        "LEAD_EARTHED",
        "STOP_IN",
    ),
    "workshop.evidence": (
        "CLOSED",
        "DEBRIEFED",
        "VERDICT",
        "Event",
        "Evidence",
        "EvidenceWriter",
        "Header",
        "LARGEST_FILE_BYTES",
        "SCHEMA_VERSION",
        "encoding_of",
        "first_line",
        "read_evidence",
    ),
    "workshop.instruments": (
        "CLEAR_PING",
        "TRACE_OF_PING",
    ),
    "workshop.road_check": ("ROUTES",),
    "workshop.session": (
        "Act",
        "CRANK_AT_MOST_S",
        "LogLine",
        "Readings",
        "Session",
        "replay",
    ),
    "workshop.timing_method": (
        "MethodResult",
        "peak_and_back_off",
    ),
    "workshop.trajectory": (
        "SAMPLE_EVERY_TICKS",
        "Trajectory",
    ),
}
_HOME = {name: module for module, names in _MODULES.items() for name in names}
_OLDER = {"CylinderHealth": "CylinderWear", "Health": "Wear"}  # older names, which keep working
__all__ = sorted(_HOME)


def __getattr__(name):
    name = _OLDER.get(name, name)
    if name not in _HOME:
        raise AttributeError(f"engine_sim has no '{name}'; it offers {', '.join(__all__)}")
    value = getattr(importlib.import_module(f".{_HOME[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__():
    return __all__
