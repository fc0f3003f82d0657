"""Which model this is, and whether two programs are the same one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from pathlib import Path

# Of physics and workshop rules: evidence of another version is recognised, and not judged by this one.
MODEL_VERSION = "4"
CODE_ENDINGS = (".py", ".toml")


def code_files(parts: Iterable[Path]) -> dict[str, Path]:
    """Every file of code and tables below `parts`, modules or whole folders, by its name as seen from its part."""
    found = {}
    for part in parts:
        for path in part.rglob("*") if part.is_dir() else [part]:
            if path.suffix in CODE_ENDINGS:
                found[path.relative_to(part.parent).as_posix()] = path
    return dict(sorted(found.items()))


def code_digest(parts: Iterable[Path]) -> str:
    """A digest of the files that `parts` hold, 64 hexadecimal digits: the same digest, the same program.

    It is the key of every result that is kept: response maps and verdicts. Where the parts lie on the disk does not
    matter. Raises OSError where a file cannot be read.
    """
    total = hashlib.sha256()
    for name, path in code_files(parts).items():
        content = path.read_bytes()
        total.update(f"{name} {len(content)}\n".encode() + content)
    return total.hexdigest()
