"""The label of a learner's engine: whether its base timing can be used, and why not.

On most engines on which a setting is judged it cannot, for a reason that the nameplate shows. Where it can, label and
method agree within `AGREES_WITHIN_DEG`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from engine_sim import SOUND, Conditions, Draw, EngineCard, Wear

from .reference import reference_for

AGREES_WITHIN_DEG = 3.0  # crank degrees between a label that can be used and the method; calibration
USABLE_SHARE = 0.1  # of the engines of which the label may be usable; calibration
OTHER_FIGURES_DEG = (-4.0, -2.0, 0.0, 2.0, 14.0, 16.0, 18.0, 20.0)  # on labels of other engines; common practice
OTHER_AT_LEAST_DEG = 8.0  # crank degrees from where the method leads; calibration
SLIP_DEG = (10.0, 16.0)  # crank degrees by which the mark of another damper is off; calibration
CHAIN_LATE_DEG = (10.0, 13.0)  # crank degrees by which a worn chain holds the valves back; calibration
EARLIEST_SETTING_DEG = 15.0  # crank degrees BTDC beyond which no engine of the course is set; a mechanic's word
SPRINGS_LEFT = (0.7, 0.8)  # stiffness of the springs of a distributor from elsewhere, over the card's; calibration
BASE, LOOKED_OVER = "Base timing", "Looked over"  # lines of the nameplate
IN_ORDER = "label, damper, distributor and timing chain belong to this engine and are in order"


@dataclass(frozen=True)
class Label:
    """What is known of a label. `reason` is why it cannot be used, empty where it can; `figure_deg` the base timing
    that it gives [crank deg BTDC], None where there is none; `lines` those of the nameplate that it changes or adds;
    `told` a sentence for feedback, empty where the exercise is not about the label."""

    reason: str = ""
    figure_deg: float | None = None
    lines: tuple[tuple[str, str], ...] = ()
    told: str = ""

    def nameplate(self, card: EngineCard) -> dict[str, str]:
        """What a person may read on the engine, line by line."""
        return {**card.nameplate, **dict(self.lines)}


AS_MADE = Label()  # of an engine on which the label is not in question
NO_FIGURE = Label(
    "missing", None, ((BASE, "not known: carburettor and distributor are from elsewhere, and there are no papers"),)
)
Drawn = tuple[Label, EngineCard, Wear]
Reason = Callable[[EngineCard, Conditions, Draw], Drawn]
_REASONS: list[Reason] = []  # each as often as its weight says


def drawn_label(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    """The label of an engine on which a setting is judged, and card and wear of that engine as they truly are.

    Raises OutsideValidity where the method finds no peak on the engine of the card.
    """
    may_be_usable = draw.share() < USABLE_SHARE
    reason = _REASONS[int(draw.share() * len(_REASONS))]
    figure = card.setting.label_base_timing_deg
    if may_be_usable and abs(reference_for(card, conditions).method.timing_deg - figure) <= AGREES_WITHIN_DEG:
        told = f"Its label, {figure:g} degrees, can be used and agrees with the method within 3 degrees."
        return Label("", figure, ((LOOKED_OVER, IN_ORDER),), told), card, SOUND
    return reason(card, conditions, draw)


def _reason(weight: int) -> Callable[[Reason], Reason]:
    """Make a reason one of those that are drawn. Those that lead a timing light furthest away weigh more, so that a
    label's figure is no good guess; calibration."""

    def known(function: Reason) -> Reason:
        _REASONS.extend([function] * weight)
        return function

    return known


def _useless(reason: str, card: EngineCard, seen: str, because: str, wear: Wear = SOUND) -> Drawn:
    """A label with the card's figure that does not tell where this engine belongs; `seen` stands on the nameplate."""
    told = f"Its label could not be used: {because}."
    return Label(reason, card.setting.label_base_timing_deg, ((LOOKED_OVER, seen),), told), card, wear


@_reason(2)
def _missing(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    lines = ((BASE, "not known: this line of the label has been rubbed off"),)
    return (
        Label("missing", None, lines, "Its label could not be used: the line with the base timing is missing."),
        card,
        SOUND,
    )


@_reason(3)
def _another_engine(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    method = reference_for(card, conditions).method.timing_deg
    far = [one for one in OTHER_FIGURES_DEG if abs(one - method) >= OTHER_AT_LEAST_DEG]
    figure = far[int(draw.share() * len(far))]
    litres = card.displacement_l * draw.between(0.7, 0.85)
    side = "after" if figure < 0 else "before"
    lines = ((BASE, f"{abs(figure):g}° {side} top centre, on a label that says {litres:.1f} litres"),)
    told = "Its label could not be used: it is the label of another engine."
    return Label("another_engine", figure, lines, told), card, SOUND


@_reason(5)
def _damper_replaced(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    wear = replace(SOUND, mark_slip_deg=round(draw.between(*SLIP_DEG) * draw.sign(), 1))
    seen = "the damper is not the one that belongs here, and nobody has proven its mark"
    return _useless("damper_replaced", card, seen, "its damper was replaced, and the mark on it is wrong", wear)


@_reason(1)
def _distributor_from_elsewhere(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    left = draw.between(*SPRINGS_LEFT)
    springs = {
        name: float(f"{getattr(card.distributor, name) * left:.4g}")
        for name in ("first_spring_n_per_mm", "second_spring_n_per_mm")
    }
    other = card.model_copy(update={"distributor": card.distributor.model_copy(update=springs)})
    seen = "the number on the distributor is not the one in the book: it comes from another vehicle"
    because = "its distributor comes from another vehicle, and its weights add their degrees sooner"
    return _useless("distributor_from_elsewhere", other, seen, because)


@_reason(1)
def _chain_worn(card: EngineCard, conditions: Conditions, draw: Draw) -> Drawn:
    late = round(draw.between(*CHAIN_LATE_DEG), 1)
    wear = replace(SOUND, valves_late_deg=late)
    if reference_for(card, conditions, wear).method.timing_deg > EARLIEST_SETTING_DEG:
        return _damper_replaced(card, conditions, draw)
    seen = f"the timing chain is worn: the crank turns {late:.0f}° before the rotor follows"
    because = "its timing chain is worn, so that the valves close later than the maker set them"
    return _useless("chain_worn", card, seen, because, wear)
