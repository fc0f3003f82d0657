"""The steps that nbgrader runs for us. A class's `nbgrader_config.py` names every one of them from here."""

from .collect import ArchiveCollector, ArchiveExtractor
from .feedback_page import FeedbackPageExporter, HiddenTestsLeftOut, MarksForPage
from .judge_step import AskForPerson, Judge
from .notebook import HandInExporter
from .sandboxed_kernel import CodeInBox
from .sanitize import EmptiedMarksRemoved, MarksAsReleased, MissingCellsPutBack, NotesInert

__all__ = [
    "ArchiveCollector",
    "ArchiveExtractor",
    "AskForPerson",
    "CodeInBox",
    "EmptiedMarksRemoved",
    "FeedbackPageExporter",
    "HandInExporter",
    "HiddenTestsLeftOut",
    "Judge",
    "MarksAsReleased",
    "MarksForPage",
    "MissingCellsPutBack",
    "NotesInert",
]
