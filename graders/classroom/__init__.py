"""A class run, and the report on it."""
