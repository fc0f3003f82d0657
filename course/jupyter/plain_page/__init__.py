"""The lessons as plain pages: the same widgets and the same evidence, with no code cell in sight."""
