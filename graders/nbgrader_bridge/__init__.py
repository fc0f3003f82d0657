"""The steps that nbgrader runs for us. A class's `nbgrader_config.py` names every one of them from here.

Each is loaded when nbgrader asks for it by name: a command that makes a class needs neither the judge nor the box.
"""

import importlib

_HOME = {
    "ArchiveCollector": "collect",
    "ArchiveExtractor": "collect",
    "AskForPerson": "judge_step",
    "CodeInBox": "sandboxed_kernel",
    "EmptiedMarksRemoved": "sanitize",
    "FeedbackPageExporter": "feedback_page",
    "HandInExporter": "notebook",
    "HiddenTestsLeftOut": "feedback_page",
    "Judge": "judge_step",
    "MarksAsReleased": "sanitize",
    "MarksForPage": "feedback_page",
    "MissingCellsPutBack": "sanitize",
    "NotesInert": "sanitize",
}
__all__ = sorted(_HOME)


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"graders.nbgrader_bridge has no '{name}'; it offers {', '.join(__all__)}")
    return getattr(importlib.import_module(f".{_HOME[name]}", __name__), name)


def __dir__() -> list[str]:
    return __all__
