"""The Gaussian-process sampler: run by ``.ci/gp``, since ``torch`` is near a gigabyte."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimise.errors import CallError
from optimise.search import sampled
from optimise.search.sampled import sampled_front
from tests.search.test_sampled import ROD, made_of

pytestmark = pytest.mark.usefixtures("coarse_wood")


def test_it_keeps_limits_and_goes_on_from_a_store(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name, fewer in (("GP_GENERATION", 5), ("STARTS", 2), ("SHORTENINGS", 1)):
        monkeypatch.setattr(sampled, name, fewer)
    made, store = made_of(ROD), str(tmp_path / "kept.db")
    found = sampled_front(made, designs=10, sampler="gp", store=store)
    assert len(found.rows) > 0
    assert (found.sheet.least_margin >= 0.0).all()
    assert ((found.numbers >= made.low) & (found.numbers <= made.high)).all()
    more = sampled_front(made, designs=2, sampler="gp", store=store)
    assert (more.sheet.least_margin >= 0.0).all()
    assert more.volume[-1][1] >= 0.99 * found.volume[-1][1]
    with pytest.raises(CallError, match="another sampler"):
        sampled_front(made, designs=2, store=store)
