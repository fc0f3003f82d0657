"""The marking page: one written answer at a time, with what helps to mark it; served on this machine alone."""
