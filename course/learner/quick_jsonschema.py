"""jsonschema, on which notebooks and nbgrader stand, without the part that nothing here needs."""

from __future__ import annotations

import sys


def load_jsonschema_quickly() -> None:
    """Load jsonschema without its check of internationalised addresses (RFC 3987): to build the grammar for that takes
    as long as all the rest of nbgrader, and 16 MB, and no notebook names that format."""
    grammar = "rfc3987_syntax"
    if "jsonschema" in sys.modules or grammar in sys.modules:
        return
    sys.modules[grammar] = None  # type: ignore[assignment] # to an import, as though it were not installed
    try:
        import jsonschema  # noqa: F401
    finally:
        del sys.modules[grammar]
