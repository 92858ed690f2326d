"""The refusal of a whole file, in the usual order of sentences; free of heavy imports."""

from pipeline.errors import FileRefusedError, Way
from pipeline.intake.options import ReadOptions

NO_ROW = "No row of this file was loaded."


def refused(
    shown: str, what: str, todo: str, found: str | None = None, expected: str | None = None,
    *, ways: tuple[Way, ...] = (),
) -> FileRefusedError:  # fmt: skip
    """Return the refusal of a whole file, in the usual order of sentences."""
    return FileRefusedError(
        f"{shown}: {what}", found=found, expected=expected, done=NO_ROW, todo=todo, ways=ways
    )


def mapping_line(shown: str, options: ReadOptions, line: str) -> str:
    """Say which line to add to the site's mapping."""
    site = shown.split("/", maxsplit=1)[0]
    return f"add to {site}/mapping.toml: [{options.table_name or 'table'}] {line}"
