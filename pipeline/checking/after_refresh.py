"""What a refresh says of the sites it read anew, though nothing of it is refused."""

from collections.abc import Iterator, Sequence
from pathlib import Path

from pipeline.checking.finding import frames_of, looked_at, rows_of
from pipeline.checking.sense import warnings_of
from pipeline.screening.batch import ROWS_AT_ONCE
from pipeline.warehouse.part_source import LivePart
from pipeline.warehouse.read import read_summaries

JOINED = """
SELECT site_id, count(*) AS runs, count_if(run_class = 'aid_recorded') AS joined
FROM chamber_run
WHERE site_id IN (SELECT site_id FROM site WHERE last_local_date IS NOT NULL)
GROUP BY site_id ORDER BY site_id
"""


def warnings_after(parts: Sequence[LivePart], new: frozenset[str]) -> list[dict[str, str]]:
    """Return file and sentence of what is likely wrong with files that came in now.

    Args:
        parts: every live file.
        new: names of the files read for the first time.
    """
    told = []
    for sites in _gathered(parts, new):
        frames = frames_of([part for own in sites for part in own])
        for own in sites:
            for file, sentences in sorted(warnings_of(rows_of(own, frames), new).items()):
                told += [{"file": file, "warning": sentence} for sentence in sentences]
    return told


def _gathered(parts: Sequence[LivePart], new: frozenset[str]) -> Iterator[list[list[LivePart]]]:
    """Give the files to look at by site, in order, as many sites at once as memory is for.

    Parts hold rows of many sites: read for each site alone, each would be read again and again.
    """
    by_site: dict[str, list[LivePart]] = {}
    for part in parts:
        if part.site_id:
            by_site.setdefault(part.site_id, []).append(part)
    gathered: list[list[LivePart]] = []
    rows = 0
    for _, own in sorted(by_site.items()):
        tables = {part.table_name for part in own if part.file in new}
        if chosen := [part for part in looked_at(own) if part.table_name in tables]:
            more = sum(part.accepted or 0 for part in chosen)
            if gathered and rows + more > ROWS_AT_ONCE:
                yield gathered
                gathered, rows = [], 0
            gathered.append(chosen)
            rows += more
    if gathered:
        yield gathered


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
