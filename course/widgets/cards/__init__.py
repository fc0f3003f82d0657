"""The cards of a lesson beside its exercises: pictures, words, and handing in."""
