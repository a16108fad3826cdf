"""ramfront: find the faster hydraulic wood splitter before buying the parts.

From Python: :func:`load` a study, :func:`evaluate` its machine, find its :func:`front`. They are
loaded when first asked for, so that the command line starts quickly.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

__version__ = "0.1.0"
__all__ = ["__version__", "evaluate", "front", "load"]


def __getattr__(name: str) -> Any:
    """Public functions, out of the room that tells people and notebooks."""
    if name in __all__:
        return getattr(import_module("optimise.report.notebook"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
