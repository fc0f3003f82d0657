"""The pictures of the lessons, drawn from the simulator itself; each with its title and the same in words.

A picture is a function under `@lesson_picture` in any module of this folder. A lesson shows it with
`picture("name")`, the name being that of the function.
"""

from .registry import Drawn, LessonPicture, LessonPictureError, lesson_picture, picture_named, pictures

__all__ = ["Drawn", "LessonPicture", "LessonPictureError", "lesson_picture", "picture_named", "pictures"]
