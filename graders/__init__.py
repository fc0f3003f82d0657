"""The judge: evidence in, verdicts out; the bridge to nbgrader; class runs and reports."""
