"""An older name: the configuration of class folders made before uses it."""

from course.authoring.build import InstructorCellsRemoved, ValuesFilledIn, WordsLinked

__all__ = ["InstructorCellsRemoved", "ValuesFilledIn", "WordsLinked"]
