"""What holds for every test."""

import sys

# jsonschema, which nbformat loads, would have this one compile a grammar of internet addresses, 1.4 s in every worker.
# No notebook has a field of that format, and jsonschema goes on without it where it is not installed.
sys.modules.setdefault("rfc3987_syntax", None)

# Marks of tests that run where -m names them, and never otherwise.
ONLY_WHERE_NAMED = ("benchmark", "further", "pictures")


def pytest_collection_modifyitems(config, items):
    """Leave out what nobody asked for: an expression of one's own, as in `-m "not browser"`, does not bring it in."""
    unasked = {mark for mark in ONLY_WHERE_NAMED if mark not in config.option.markexpr}
    left_out = [item for item in items if unasked & {mark.name for mark in item.iter_markers()}]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]
