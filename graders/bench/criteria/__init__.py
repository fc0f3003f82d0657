"""Every criterion by the name that rubrics use: all modules of this folder are loaded."""

import importlib
import pkgutil

from graders.bench.attempt import CHECKS

__all__ = ["CHECKS"]

for _module in pkgutil.iter_modules(__path__):
    importlib.import_module(f"{__name__}.{_module.name}")
