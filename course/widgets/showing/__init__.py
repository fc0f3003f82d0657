"""Before a class: the instructor's bench for a projector, and the method played from recordings."""
