"""A check against a published value: the key of its record, and how the model comes to the same number."""

from __future__ import annotations

import importlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from engine_sim import published


@dataclass(frozen=True)
class Check:
    """`found()` gives the model's number in the unit of the record named `key`; as text, a transcription says so."""

    key: str
    found: Callable[[], float]

    def __str__(self) -> str:
        return f"{self.key} (transcription)" if published(self.key).transcription else self.key

    def must_agree(self) -> None:
        """Fail with value, band and source where the model's number lies outside the record's band."""
        record, found = published(self.key), float(self.found())
        assert record.agrees(found), (
            f"{self.key}: {found:.6g} {record.unit} lies outside {record.low:.6g} to "
            f"{record.high:.6g} ({record.source.text}, {record.certainty})"
        )


def all_checks() -> list[Check]:
    """Every check of every module beside this one."""
    names = sorted(path.stem for path in Path(__file__).parent.glob("test_*.py"))
    modules = (importlib.import_module(f"tests.published.{name}") for name in names)
    return [check for module in modules for check in getattr(module, "CHECKS", ())]
