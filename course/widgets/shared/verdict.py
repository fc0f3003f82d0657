"""A verdict as a card shows it: for the eye, and in one sentence for the ear."""

from __future__ import annotations

from importlib import import_module

from graders.outcome import ExerciseResult, Outcome


def shown_result(result: ExerciseResult) -> dict:
    """A result as the browser draws it: the latest try, and the best beside it where that earned more."""
    said, best = result.shown, result.better
    return {
        "points": said.points,
        "max_points": said.max_points,
        "needs_person": result.needs_person,
        "criteria": _shown_criteria(said),
        "best": {"points": best.points, "criteria": _shown_criteria(best)} if best else None,
    }


def shown_verdict(result: ExerciseResult) -> dict:
    """A result of work at a bench as its card shows it: with its sentence, and what the engine does where that may be
    seen."""
    # The picture's library takes its time to load, and most verdicts have no picture.
    picture = import_module("graders.nbgrader_bridge.trace_picture").trace_picture if result.to_see else str
    return {
        "sentence": spoken_result(result),
        "closed": result.shown.closed,
        "picture": picture(result.to_see or ""),
        **shown_result(result),
    }


def spoken_result(result: ExerciseResult) -> str:
    """A result in one sentence, for those who hear the page."""
    said, best = result.shown, result.better
    counted = [criterion for criterion in said.criteria if criterion.max_points]
    met = sum(criterion.outcome is Outcome.MET for criterion in counted)
    rest = "" if met == len(counted) else " The list below says what is missing."
    ours = any(criterion.outcome is Outcome.COULD_NOT_BE_JUDGED for criterion in counted)
    person = f" {result.needs_person}" if ours else ""
    counts = f" An earlier try earned {best.points:g} points, and these count." if best else ""
    of = "point" if said.max_points == 1.0 else "points"
    return f"Checked: {met} of {len(counted)} met, {said.points:g} of {said.max_points:g} {of}.{counts}{rest}{person}"


def _shown_criteria(result: ExerciseResult) -> list[dict]:
    return [
        {
            "title": criterion.title,
            "outcome": criterion.outcome.value,
            "points": criterion.points,
            "max_points": criterion.max_points,
            "sentence": criterion.sentence,
        }
        for criterion in result.criteria
    ]
