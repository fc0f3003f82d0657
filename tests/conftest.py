"""What holds for every test."""

import sys

# jsonschema, which nbformat loads, would have this one compile a grammar of internet addresses, 1.4 s in every worker.
# No notebook has a field of that format, and jsonschema goes on without it where it is not installed.
sys.modules.setdefault("rfc3987_syntax", None)
