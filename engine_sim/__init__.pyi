from .diagnosis.faults import (
    FAULTS as FAULTS,
    PATTERNS as PATTERNS,
    SOUND_PATTERN as SOUND_PATTERN,
    Fault as Fault,
    fault_named as fault_named,
)
from .diagnosis.inspection import (
    Finding as Finding,
    Inspection as Inspection,
    OnTheStand as OnTheStand,
)
from .diagnosis.inspections import (
    INSPECTIONS as INSPECTIONS,
    inspection_named as inspection_named,
)
from .diagnosis.told_apart import tells_apart as tells_apart
from .errors import (
    CardError as CardError,
    ControlError as ControlError,
    EvidenceError as EvidenceError,
    OutsideValidity as OutsideValidity,
    TimingCourseError as TimingCourseError,
)
from .model.card import (
    EngineCard as EngineCard,
    load_card as load_card,
)
from .model.conditions import (
    SEA_LEVEL_DAY as SEA_LEVEL_DAY,
    Conditions as Conditions,
)
from .model.cycle import (
    CycleTrace as CycleTrace,
)
from .model.dynamics import (
    TICK_S as TICK_S,
)
from .model.engine import (
    Engine as Engine,
    WarmIdle as WarmIdle,
)
from .model.idle_table import (
    IdleTable as IdleTable,
)
from .model.idle_trial import (
    engine_that_idles as engine_that_idles,
)
from .model.population import (
    AsFound as AsFound,
    Draw as Draw,
    LearnersEngine as LearnersEngine,
    folded_name as folded_name,
    learners_engine as learners_engine,
    usual_screw as usual_screw,
)
from .model.results import (
    FullThrottle as FullThrottle,
    IdleState as IdleState,
    OperatingPoints as OperatingPoints,
)
from .model.start_trial import (
    StartTrial as StartTrial,
    start_trial as start_trial,
)
from .model.wear import (
    SOUND as SOUND,
    CylinderWear as CylinderWear,
    Wear as Wear,
)
from .physics.atmosphere import (
    standard_pressure_pa as standard_pressure_pa,
)
from .physics.fuel import (
    antiknock_index as antiknock_index,
    octane_in_use as octane_in_use,
)
from .physics.knock import (
    ping_share as ping_share,
)
from .physics.units import (
    PA_PER_INHG as PA_PER_INHG,
)
from .sources import (
    citation_text as citation_text,
    published as published,
    value_text as value_text,
)
from .version import (
    MODEL_VERSION as MODEL_VERSION,
)
from .workshop.adjustments import (
    FUELS as FUELS,
    SPRING_STIFFNESS as SPRING_STIFFNESS,
    weights_from as weights_from,
)
from .workshop.controls import (
    CONTROLS as CONTROLS,
    DRIVER_READY as DRIVER_READY,
    LEAD_EARTHED as LEAD_EARTHED,
    STOP_IN as STOP_IN,
    Control as Control,
)
from .workshop.evidence import (
    CLOSED as CLOSED,
    DEBRIEFED as DEBRIEFED,
    LARGEST_FILE_BYTES as LARGEST_FILE_BYTES,
    SCHEMA_VERSION as SCHEMA_VERSION,
    VERDICT as VERDICT,
    Event as Event,
    Evidence as Evidence,
    EvidenceWriter as EvidenceWriter,
    Header as Header,
    encoding_of as encoding_of,
    first_line as first_line,
    read_evidence as read_evidence,
)
from .workshop.instruments import (
    CLEAR_PING as CLEAR_PING,
    TRACE_OF_PING as TRACE_OF_PING,
)
from .workshop.road_check import (
    ROUTES as ROUTES,
)
from .workshop.session import (
    CRANK_AT_MOST_S as CRANK_AT_MOST_S,
    Act as Act,
    LogLine as LogLine,
    Readings as Readings,
    Session as Session,
    replay as replay,
)
from .workshop.timing_method import (
    MethodResult as MethodResult,
    peak_and_back_off as peak_and_back_off,
)
from .workshop.trajectory import (
    SAMPLE_EVERY_TICKS as SAMPLE_EVERY_TICKS,
    Trajectory as Trajectory,
)
