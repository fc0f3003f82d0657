"""What can be wrong with an engine, and the inspections that show it."""
