"""The forms of the questions."""
