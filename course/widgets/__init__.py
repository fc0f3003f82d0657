"""Bench and question forms for the lessons' notebooks: `from course.widgets import bench, choice, number,
written, check`."""

from .cells import bench, check, choice, number, written

__all__ = ["bench", "check", "choice", "number", "written"]
