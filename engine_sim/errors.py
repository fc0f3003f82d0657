"""What can go wrong, each said in one sentence: what was wanted, what was found, how to put it right."""


class TimingCourseError(Exception):
    """Root of the errors that this project raises on purpose; its text is fit to show to a learner."""


class CardError(TimingCourseError):
    """An engine card cannot be read or holds a field that is not allowed."""


class OutsideValidity(TimingCourseError):
    """A quantity lies outside the range for which the model is valid."""


class ControlError(TimingCourseError):
    """A control does not exist, or was given a value it cannot take."""


class EvidenceError(TimingCourseError):
    """An evidence file cannot be believed; `kind` names the reason in one word for the judge."""

    def __init__(self, kind: str, sentence: str):
        super().__init__(sentence)
        self.kind = kind
