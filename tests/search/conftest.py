"""What the searches of this folder share."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from optimise.machine import wood


@pytest.fixture(scope="module")
def coarse_wood() -> Iterator[None]:
    """Four levels of wood instead of twelve: no proof rests on how many, the time does."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(wood, "LEVELS", 4)
        yield
