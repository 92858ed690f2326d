"""What a refresh says of the sites it read anew, though nothing of it is refused."""

from collections.abc import Sequence
from pathlib import Path

from pipeline.checking.finding import rows_of
from pipeline.checking.sense import warnings_of
from pipeline.warehouse.part_source import LivePart
from pipeline.warehouse.read import read_summaries

JOINED = """
SELECT site_id, count(*) AS runs, count_if(run_class = 'aid_recorded') AS joined
FROM chamber_run
WHERE site_id IN (SELECT DISTINCT site_id FROM session)
GROUP BY site_id ORDER BY site_id
"""


def warnings_after(parts: Sequence[LivePart], new: frozenset[str]) -> list[dict[str, str]]:
    """Return file and sentence of what is likely wrong with files that came in now.

    Args:
        parts: every live file.
        new: names of the files read for the first time.
    """
    told = []
    for site in sorted({part.site_id for part in parts if part.file in new and part.site_id}):
        own = rows_of([part for part in parts if part.site_id == site])
        for file, sentences in sorted(warnings_of(own, new).items()):
            told += [{"file": file, "warning": sentence} for sentence in sentences]
    return told


def unjoined(warehouse: Path) -> list[dict[str, str]]:
    """Return site and sentence of every log of which most runs found no record."""
    logs = read_summaries(warehouse, {"logs": JOINED})["logs"]
    return [
        {
            "file": f"{site}/",
            "warning": f"{runs - joined} of {runs} runs of the chamber's log found no record;"
            " drytally check of the log tells how far its clock is off and what to write",
        }
        for site, runs, joined in logs.iter_rows()
        if 2 * joined < runs
    ]
