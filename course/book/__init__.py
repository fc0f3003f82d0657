"""The learner's edition as a static site, to be read and printed without a network: pages, exercises, look."""
