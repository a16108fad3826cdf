"""The examples in the docstrings run, and every public formula has one."""

import doctest
import importlib

import pytest

from tests.physics.formulas import MODULES, public_functions


@pytest.mark.parametrize("name", MODULES)
def test_docstring_examples(name):
    module = importlib.import_module(f"optimise.physics.{name}")
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_every_formula_has_an_example(name):
    without = [f.__name__ for f in public_functions(name) if ">>>" not in (f.__doc__ or "")]
    assert without == []
