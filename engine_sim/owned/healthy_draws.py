"""The stored draws of healthy engines: what is read on each less what is read on the healthy engine of its description.

`healthy_draws.json` is plain data, made by `python -m engine_sim.owned.healthy_drawing FOLDER`.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

DRAWS = Path(__file__).with_name("healthy_draws.json")
KNOWN, NOT_KNOWN = "compression known", "compression not known"


@dataclass(frozen=True, eq=False)
class HealthyDraws:
    """Healthy engines beside the one of their description, a row an engine.

    Vacuum [inHg, as at sea level] of the idle as its owner keeps it: `idle_inhg` beside the nominal engine set by its
    label, `idle_set_alike_inhg` beside it set to the same base and speed; `held_inhg` held at 2,500 rpm. `base_deg`:
    its base beside the label's; `rise_deg`: the light's rise from idle to 3,000 rpm, hose off; `end_deg`: end of the
    method [crank deg]; `octane`: octane need [RON] at that end. `curve_inhg` and `curve_rpm` are vacuum and speed [rpm]
    over the timing at the peak's screw, in the order of `idle_table.TIMINGS_DEG`, NaN where one of the two stalls.
    """

    idle_inhg: np.ndarray
    idle_set_alike_inhg: np.ndarray
    base_deg: np.ndarray
    held_inhg: np.ndarray
    rise_deg: np.ndarray
    end_deg: np.ndarray
    octane: np.ndarray
    curve_inhg: np.ndarray
    curve_rpm: np.ndarray


@functools.cache
def healthy_draws(compression_known: bool) -> HealthyDraws:
    """Engines drawn round descriptions that know the compression, or that do not."""
    content = json.loads(DRAWS.read_text(encoding="utf-8"))[KNOWN if compression_known else NOT_KNOWN]
    return HealthyDraws(**{name: np.array(values, float) for name, values in content.items()})
