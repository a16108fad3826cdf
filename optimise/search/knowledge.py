"""What a study knows of the model's constants: from its measurements, or from the trade."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

import numpy as np

from optimise.errors import CallError, RamfrontError
from optimise.search.fit import Fit, fit_constants
from optimise.search.priors import PRIORS, Belief, FromTheTrade, constants_at
from optimise.study.model import Study
from optimise.study.space import owned_machine


@dataclass(frozen=True)
class Knowledge:
    """Belief behind ranges, and where it comes from.

    Attributes
    ----------
    belief
        None where neither measurements nor priors can be used.
    source
        "measurements", "priors" or "nothing".
    why_not
        Why it is not the measurements; "" where it is.
    """

    belief: Belief | None
    source: str
    why_not: str

    @property
    def fit(self) -> Fit | None:
        """The fit, where the belief is one."""
        return self.belief if isinstance(self.belief, Fit) else None


def fit_of(study: Study) -> Fit | None:
    """Fit to the measurements of a study on the machine owned; None where it holds none.

    Raises
    ------
    StudyError, CallError
        As :func:`~optimise.search.fit.fit_constants`.
    """
    if not study.measurements:
        return None
    file = str(study.folder / "study.toml")
    return fit_constants(
        owned_machine(study), study.setting, study.measurements, system=study.system, path=file
    )


def knowledge_of(study: Study, *, must_fit: bool = False) -> Knowledge:
    """Belief from the measurements where these can be used, from the trade otherwise.

    Parameters
    ----------
    must_fit
        Whether faults of the measurements, or their absence, are raised.
    """
    if must_fit and not study.measurements:
        raise CallError(
            "--fitted: the study holds no measurements to fit; put readings under "
            "[[measurements]] of study.toml, or leave --fitted out"
        )
    try:
        fit = fit_of(study)
        if fit is not None:
            return Knowledge(fit, "measurements", "")
        raise CallError("the study holds no measurements")
    except RamfrontError as error:
        if must_fit:
            raise
        why_not = str(error)
    try:
        constants_at(study.setting.constants, np.zeros(len(PRIORS)))
    except CallError as error:
        return Knowledge(None, "nothing", str(error))
    return Knowledge(FromTheTrade(study.setting.constants), "priors", why_not)


def corrected(study: Study, fit: Fit) -> Study:
    """Study whose point values use the constants that fit best."""
    setting = dataclasses.replace(study.setting, constants=fit.constants)
    return dataclasses.replace(study, setting=setting, corrected=True)
