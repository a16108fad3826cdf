"""Whether two computers would give the same answer to the same share, to the last bit."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import import_module
from pathlib import Path

import numpy as np

import optimise

Signature = dict[str, str]
"""What has to be the same, each with its value here."""

LIBRARIES = ("numpy", "scipy")
NUMBERS = 4096


@cache
def signature() -> Signature:
    """Version and source of this package, libraries, and how processor and library round."""
    return {
        "ramfront": optimise.__version__,
        "its source": _source(),
        **{name: str(import_module(name).__version__) for name in LIBRARIES},
        "rounding": _rounding(),
    }


def differences(there: Signature) -> str:
    """What differs, in words, the values there and here; "" where nothing does."""
    here = signature()
    return ", ".join(
        f"{name} ({there.get(name, 'none')}, here {value})"
        for name, value in here.items()
        if there.get(name) != value
    )


def _source() -> str:
    folder = Path(optimise.__file__).parent
    found = hashlib.sha256()
    for file in sorted(folder.rglob("*.py")):
        found.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes())
    return found.hexdigest()[:12]


def _rounding() -> str:
    """Digest of functions of numpy, whose last bit may hang on the processor."""
    numbers = np.arange(1, NUMBERS + 1) / 64.0
    small = numbers / NUMBERS
    columns = (
        np.exp(small),
        np.log10(numbers),
        np.power(numbers, 0.37),
        np.power(small, numbers),
        np.sqrt(numbers),
        np.tanh(small),
        np.sin(numbers),
        np.cos(numbers),
        numbers.reshape(64, -1).sum(axis=0),
    )
    return hashlib.sha256(b"".join(column.tobytes() for column in columns)).hexdigest()[:12]
