"""Small matrices: one thread of BLAS each process, unless the user says otherwise."""

import os
import subprocess
import sys

import pytest

from tests.test_architecture import ROOT

PROBE = """
import os, sys
from pipeline.commands import main
assert "numpy" not in sys.modules
try:
    main.main(["--version-that-is-none"])
except SystemExit:
    print(os.environ["OPENBLAS_NUM_THREADS"], os.environ["OMP_NUM_THREADS"])
"""


@pytest.mark.parametrize(
    ("given", "threads"), [({}, "1 1"), ({"OPENBLAS_NUM_THREADS": "3"}, "3 1")]
)
def test_threads_are_set_before_numpy_is_loaded(given: dict[str, str], threads: str) -> None:
    kept = {name: value for name, value in os.environ.items() if not name.endswith("_NUM_THREADS")}
    found = subprocess.run(
        [sys.executable, "-c", PROBE], env=kept | given, cwd=ROOT, capture_output=True, text=True,
        check=True,
    )  # fmt: skip
    assert found.stdout.strip() == threads
