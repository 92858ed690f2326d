"""How long a run's stages take, and about how long they will."""

import os
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipeline.stages import Job

LEAST_TOLD_S = 5.0


class Stopwatch:
    """Add the time of a stage, by the clock and of the processors, to the job's record."""

    def __init__(self, job: "Job", stage: str) -> None:
        self.job, self.stage = job, stage

    def __enter__(self) -> "Stopwatch":
        self.start, self.cpu_start = time.perf_counter(), _cpu_s()
        return self

    @property
    def spent(self) -> float:
        """Seconds since the stage began."""
        return time.perf_counter() - self.start

    def __exit__(self, *_: object) -> None:
        took = {"seconds": self.spent, "cpu_seconds": _cpu_s() - self.cpu_start}
        for name, value in took.items():
            kept = getattr(self.job, name)
            kept[self.stage] = kept.get(self.stage, 0.0) + value


def _cpu_s() -> float:
    """Processor seconds of this process and of the processes that it waited for."""
    return sum(os.times()[:4])


class Pace:
    """How far a stage of many parts has come, in whichever order they are done."""

    def __init__(self, sizes: Sequence[int]) -> None:
        self.sizes, self.done, self.parts = sizes, 0, 0

    def told(self, number: int, rows: int, files: int, spent_s: float) -> str:
        """Say that a part is done and, from the bytes read, about how long the others will take."""
        self.parts += 1
        self.done += self.sizes[number]
        left = time_left(self.done, sum(self.sizes), spent_s)
        return f"screened {rows} rows of {files} files ({self.parts}/{len(self.sizes)}{left})"


def time_left(done: float, total: float, spent_s: float) -> str:
    """Return the time that is left at the pace so far; empty where it is not worth telling."""
    if spent_s < LEAST_TOLD_S or not 0 < done < total:
        return ""
    left_s = spent_s * (total - done) / done
    return f", about {left_s:.0f} s left" if left_s < 90 else f", about {left_s / 60:.0f} min left"
