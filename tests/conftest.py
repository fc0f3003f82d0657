"""What holds for every test."""

import sys

import pytest

# jsonschema, which nbformat loads, would have this one compile a grammar of internet addresses, 1.4 s in every worker.
# No notebook has a field of that format, and jsonschema goes on without it where it is not installed.
sys.modules.setdefault("rfc3987_syntax", None)

# Marks of tests that run where -m names them, and never otherwise.
ONLY_WHERE_NAMED = ("benchmark", "further", "pictures")


# A test of the browser waits for much of its time, and one of the others computes: about as long as one file of the
# browser's takes, three of theirs take.
OTHERS_BESIDE_A_BROWSERS = 3


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config, items):
    """Leave out what nobody asked for: an expression of one's own, as in `-m "not browser"`, does not bring it in. Then
    spread the browser's files among the others, so that workers side by side seldom wait for the same thing."""
    unasked = {mark for mark in ONLY_WHERE_NAMED if mark not in config.option.markexpr}
    left_out = [item for item in items if unasked & {mark.name for mark in item.iter_markers()}]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in set(left_out)]
    items[:] = spread(items)


def spread(items):
    """The tests, a file after the other: one of the browser's, then some of the others, as long as there are both."""
    files = {}
    for item in items:
        files.setdefault(item.path, []).append(item)
    of_browser = [path for path in files if path.parent.name == "browser"]
    others = [path for path in files if path.parent.name != "browser"]
    ordered = []
    while of_browser or others:
        ordered += [*of_browser[:1], *others[:OTHERS_BESIDE_A_BROWSERS]]
        del of_browser[:1], others[:OTHERS_BESIDE_A_BROWSERS]
    return [item for path in ordered for item in files[path]]
