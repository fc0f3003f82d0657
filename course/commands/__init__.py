"""The commands of `timing-course`, one module each."""
