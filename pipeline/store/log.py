"""The store's log: a line an event with the run's id, in files that take turns."""

import logging
import time
from collections.abc import Iterable
from logging.handlers import RotatingFileHandler
from pathlib import Path

from pipeline.store.layout import PRIVATE_FOLDER, Store

MOST_BYTES = 1_000_000
EARLIER_FILES = 5
FILE = "drytally.log"


def log_file(store: Store) -> Path:
    """Return the file that takes the newest lines."""
    return store.folder / "log" / FILE


def write_log(store: Store, run_id: str, level: int, lines: Iterable[str]) -> None:
    """Add lines to the store's log; a disk that takes none never stops a run.

    Args:
        store: the store.
        run_id: the run they tell of; empty where none began.
        level: as of `logging`: INFO, WARNING where something needs attention, ERROR.
        lines: what a reader of the console sees, without identifiers.
    """
    file = log_file(store)
    try:
        file.parent.mkdir(mode=PRIVATE_FOLDER, exist_ok=True)
        handler = RotatingFileHandler(
            file, maxBytes=MOST_BYTES, backupCount=EARLIER_FILES, encoding="utf-8"
        )
    except OSError:
        return
    handler.setFormatter(Formatter())
    handler.handleError = _ignored  # type: ignore[method-assign]
    try:
        for line in lines:
            handler.handle(
                logging.LogRecord("drytally", level, "", 0, line, None, None, run_id or "-")
            )
    finally:
        handler.close()


def _ignored(record: logging.LogRecord) -> None:
    """Let a line go that the disk does not take."""


class Formatter(logging.Formatter):
    """UTC time, level, run and the line, parted by spaces; a line break becomes a bar."""

    def format(self, record: logging.LogRecord) -> str:
        """Return one physical line."""
        told = " | ".join(part.strip() for part in record.getMessage().splitlines())
        self.converter = time.gmtime
        when = self.formatTime(record, "%Y-%m-%dT%H:%M:%SZ")
        return f"{when} {record.levelname} {record.funcName} {told}"
