"""The engine as a whole: its card, its wear and its day; cycle, maps, settled states, and motion in time."""
