"""Exercises: rubrics read, checked and made a learner's own; one module for each kind of exercise in kinds/."""
