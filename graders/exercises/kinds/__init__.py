"""The kinds of exercises: one module a kind, named as rubrics write it.

This is the one list of them. What a kind answers to stands in exercise.py; its form has the same name, in
course/widgets/forms/.
"""

from __future__ import annotations

from .bench import BenchExercise
from .choice import ChoiceExercise
from .curve import CurveExercise
from .diagnosis import DiagnosisExercise
from .engine_card import EngineCardExercise
from .exercise import Exercise
from .hook_up import HookUpExercise
from .needle import NeedleExercise
from .number import NumberExercise
from .order import OrderExercise
from .several import SeveralExercise
from .sum import SumExercise
from .written import WrittenExercise

__all__ = ["KINDS"]

KINDS: dict[str, type[Exercise]] = {
    "bench": BenchExercise,
    "choice": ChoiceExercise,
    "curve": CurveExercise,
    "diagnosis": DiagnosisExercise,
    "engine_card": EngineCardExercise,
    "hook_up": HookUpExercise,
    "needle": NeedleExercise,
    "number": NumberExercise,
    "order": OrderExercise,
    "several": SeveralExercise,
    "sum": SumExercise,
    "written": WrittenExercise,
}
