"""Every criterion by the name that rubrics use: all modules of this folder named criteria or criteria_* are loaded."""

from __future__ import annotations

import importlib
import pkgutil
from pathlib import Path

from .case import CHECKS

__all__ = ["CHECKS"]

for _module in pkgutil.iter_modules([str(Path(__file__).parent)]):
    if _module.name == "criteria" or _module.name.startswith("criteria_"):
        importlib.import_module(f"{__package__}.{_module.name}")
