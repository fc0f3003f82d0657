"""An owner's engine as people meet it: the fields of its description, its sheet, its answer, and its files."""
