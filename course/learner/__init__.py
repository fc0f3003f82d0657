"""A learner's folder: the lesson at work in it, the archive to hand in, and the sheet to print."""
