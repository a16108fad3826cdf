"""What columns free is used again and not asked for anew."""

from __future__ import annotations

import subprocess
import sys

CODE = """
import resource
import numpy as np
from optimise.memory import keep_freed
def faults():
    before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
    for _ in range(50):
        column = np.linspace(1.0, 2.0, 200_000)
        np.sqrt(column * column + column) - np.log(column)
    return resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before
given_back = faults()
keep_freed()
faults()
print(given_back, faults())
"""


def test_pages_of_freed_columns_are_not_asked_for_again() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True, check=True)
    given_back, kept = map(int, done.stdout.split())
    assert given_back > 50 * 200_000 * 8 / 4096
    assert kept < given_back / 50
