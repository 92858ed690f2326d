"""Ask the warehouse through a process of its own, with a hard end in time and memory.

Imports nothing heavy: duckdb is loaded by that process alone.
"""

import json
import math
import subprocess
import sys
from pathlib import Path
from typing import IO, Any

from pipeline import errors
from pipeline.errors import QueryError

ROOT = Path(__file__).parents[2]
PROGRAM = (
    "import sys; sys.path.insert(0, sys.argv[1]);"
    " from pipeline.warehouse.query_process import main; main()"
)
# The engine keeps to 1 GB by itself; what does not look at that limit ends here.
MOST_MEMORY = 1536 * 1024**2
LARGEST_ANSWER = 4 * 1024**3
LONGEST_S = 24 * 3600.0


def ask(
    warehouse: Path, sql: str, out: IO[bytes], *, form: str = "table", timeout_s: float = 60.0
) -> list[str]:
    """Write the answer to one reading statement into an open file.

    Args:
        warehouse: the published warehouse.
        sql: one SELECT, DESCRIBE, SHOW, SUMMARIZE, or EXPLAIN of one of them.
        out: a file with a number; the answer is written at its place.
        form: table, csv, json or parquet.
        timeout_s: seconds from now after which the process is ended.

    Returns:
        What is to be said beside the answer.

    Raises:
        QueryError: where the statement is refused, fails, runs too long or takes too much memory.
        StoreError: where the warehouse cannot be opened.
    """
    request = {
        "warehouse": str(warehouse.absolute()),
        "sql": sql,
        "format": form,
        "file": out.fileno(),
        "memory": MOST_MEMORY,
        "seconds": math.ceil(timeout_s * 4) + 5,
        "largest": LARGEST_ANSWER,
    }
    with subprocess.Popen(  # noqa: S603  (this interpreter, our own program, no shell)
        [sys.executable, "-I", "-c", PROGRAM, str(ROOT)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        pass_fds=(out.fileno(),),
        env={"LC_ALL": "C.UTF-8"},
        cwd="/",
    ) as process:
        try:
            said, _ = process.communicate(json.dumps(request).encode() + b"\n", timeout_s)
        except subprocess.TimeoutExpired as error:
            raise QueryError(
                f"the query was stopped after {timeout_s:g} seconds",
                done="Nothing was changed.",
                todo="Ask for less, or give a longer --timeout.",
            ) from error
        finally:
            process.kill()
    return _outcome(said, process.returncode)


def _outcome(said: bytes, code: int | None) -> list[str]:
    told: dict[str, Any] = json.loads(said) if said and code == 0 else {"error": "memory"}
    kind = told.pop("error", None)
    if kind is None:
        notes: list[str] = told["notes"]
        return notes
    if kind == "memory":
        raise QueryError(
            f"the query needs more memory than the {MOST_MEMORY // 1024**2} MB it may use",
            done="Nothing was changed.",
            todo="Filter or count the rows before they are joined, sorted or listed.",
        )
    raise getattr(errors, kind)(told.pop("problem"), **told)
