"""Run a program and say what it took: CPU and wall seconds, memory of its whole process tree."""

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
LOOK_EVERY_S, MEMORY_EVERY_S = 0.005, 0.05
FINE = {0, 3}


@dataclass(frozen=True)
class Timed:
    """What one program took, and what it printed.

    Attributes:
        cpu_s: user and system time of the program and all that it waited for.
        wall_s: from start to end.
        peak_mb: largest sum, over its process tree, of memory with shared pages divided up.
        said: standard output.
    """

    cpu_s: float
    wall_s: float
    peak_mb: float
    said: str


def timed(name: str, *command: str) -> Timed:
    """Run a program of this interpreter in a fresh process.

    Raises:
        SystemExit: where it fails, with the end of what it said.
    """
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        start = time.perf_counter()
        child = subprocess.Popen([sys.executable, *command], stdout=out, stderr=err, cwd=ROOT)
        peak, looked = 0.0, 0.0
        while True:
            pid, status, used = os.wait4(child.pid, os.WNOHANG)
            now = time.perf_counter()
            if pid:
                break
            if now - looked >= MEMORY_EVERY_S:
                peak, looked = max(peak, _memory_mb(child.pid)), now
            time.sleep(LOOK_EVERY_S)
        child.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        err.seek(0)
        said, faults = out.read().decode(), err.read().decode()
    if child.returncode not in FINE:
        raise SystemExit(f"{name} ended with {child.returncode}: {faults[-2000:]}{said[-2000:]}")
    return Timed(used.ru_utime + used.ru_stime, now - start, peak, said)


def _memory_mb(root: int) -> float:
    return sum(_own_mb(pid) for pid in _tree(root))


def _tree(pid: int) -> list[int]:
    found = [pid]
    try:
        for task in Path(f"/proc/{pid}/task").iterdir():
            for child in (task / "children").read_text().split():
                found += _tree(int(child))
    except OSError:  # it ended meanwhile
        pass
    return found


def _own_mb(pid: int) -> float:
    try:
        for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0
