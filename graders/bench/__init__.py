"""Work at the bench: what a learner is given, the replay of what was done, and the criteria over it."""
