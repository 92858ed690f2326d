"""Make a change in a copy of the project and see whether its tests notice."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from time import perf_counter

from tests.mutants.mutant import ROOT, Mutant

COPIED = ("pipeline", "schemas", "reports", "sample_data", "tests", "docs")
FILES = ("pyproject.toml", "README.md", "DEVELOPERS.md", "CHANGELOG.md", "DATA_DICTIONARY.md",
         "constraints.txt")  # fmt: skip
PYTEST = ("-m", "pytest", "-x", "-q", "-n", "0", "-p", "no:cacheprovider", "--no-header")
CPU_SECONDS = 90  # of processor, so that a busy machine calls no change slow
NOTICED = (1, 2)  # pytest: a test failed; the tests could not be collected


@dataclass(frozen=True)
class Seen:
    """One mutant, tried: caught, seconds taken, the first test that noticed."""

    mutant: Mutant
    is_caught: bool
    seconds: float
    by: str = ""

    @property
    def is_as_listed(self) -> bool:
        """Caught, or listed as one that no test can notice."""
        return self.is_caught != bool(self.mutant.survives)


@contextmanager
def copied(root: Path = ROOT) -> Iterator[Path]:
    """Copy the project without caches to a folder that goes afterwards."""
    with TemporaryDirectory(prefix="mutants-") as folder:
        copy = Path(folder) / "project"
        for name in COPIED:
            shutil.copytree(root / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
        for name in FILES:
            shutil.copy(root / name, copy / name)
        yield copy


def tried(mutant: Mutant, copy: Path) -> Seen:
    """Make the change in the copy, run its tests there, and take it back."""
    source = mutant.source(copy)
    before = source.read_text(encoding="utf-8")
    source.write_text(mutant.changed(copy), encoding="utf-8")
    start = perf_counter()
    try:
        code, said = run_tests(mutant.test_files(copy), copy, CPU_SECONDS)
    finally:
        source.write_text(before, encoding="utf-8")
    return Seen(mutant, code in NOTICED, perf_counter() - start, _first_failed(said))


def run_tests(files: Iterable[str], copy: Path, cpu_seconds: int | None = None) -> tuple[int, str]:
    """Run test files of the copy, with its code; return pytest's exit code and what it said.

    A run that takes more processor time counts as a failure: the change made it hang.

    Raises:
        RuntimeError: where pytest could not do its work.
    """
    # Without stored bytecode: a change of equal length within a second would not be read.
    command = [sys.executable, "-B", *PYTEST, *files]
    environment = {**os.environ, "PYTHONPATH": str(copy)}
    if cpu_seconds is not None:
        command = ["sh", "-c", 'ulimit -t "$0"; exec "$@"', str(cpu_seconds), *command]
    done = subprocess.run(
        command, cwd=copy, env=environment, capture_output=True, text=True, check=False
    )
    if done.returncode in (-signal.SIGXCPU, -signal.SIGKILL):
        return 1, "FAILED too slow"
    if done.returncode not in (0, *NOTICED):
        raise RuntimeError(done.stdout + done.stderr)
    return done.returncode, done.stdout


def unchanged_pass(mutants: Iterable[Mutant], copy: Path) -> str:
    """Run every test of these mutants on the code as it is; return what failed, empty for none."""
    files = sorted({file for own in mutants for file in own.test_files(copy)})
    code, said = run_tests(files, copy)
    return said if code else ""


def _first_failed(said: str) -> str:
    for line in said.splitlines():
        if line.startswith(("FAILED ", "ERROR ")):
            return line.split(" - ")[0].split(" ", 1)[1]
    return ""
