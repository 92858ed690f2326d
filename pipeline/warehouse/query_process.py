"""The limited process that answers one query: a request on stdin, its outcome on stdout.

The answer itself goes to the open file whose number the request names. Started by
`limited_query`, which ends it at the deadline: scalar functions look neither at interrupts nor at
the engine's memory limit, so that only a process of their own holds them.
"""

import json
import os
import resource
import sys
from pathlib import Path
from typing import Any

import duckdb

from pipeline.errors import DrytallyError
from pipeline.warehouse import answer_forms
from pipeline.warehouse.fence import failed, one_reading_statement, open_fenced

TEXTS = {
    "table": answer_forms.write_table,
    "csv": answer_forms.write_csv,
    "json": answer_forms.write_json,
}


def limit(memory: int, seconds: int, largest: int) -> None:
    """Bound this process's memory, processor time and the size of what it writes."""
    for what, most in (
        (resource.RLIMIT_DATA, memory), (resource.RLIMIT_CPU, seconds),
        (resource.RLIMIT_FSIZE, largest), (resource.RLIMIT_CORE, 0),
    ):  # fmt: skip
        hard = resource.getrlimit(what)[1]
        bound = most if hard == resource.RLIM_INFINITY else min(most, hard)
        resource.setrlimit(what, (bound, bound))


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """Answer a request; returns what is to be said beside the answer, or the error."""
    largest = request["largest"]
    try:
        return {"notes": _answer(request)}
    except DrytallyError as error:
        return {
            "error": type(error).__name__, "problem": error.problem, "found": error.found,
            "expected": error.expected, "done": error.done, "todo": error.todo,
        }  # fmt: skip
    except MemoryError:
        return {"error": "memory"}
    except OSError as error:
        what = f"the answer is larger than {largest // 1024**2} MB, or its disk is full"
        return {"error": "QueryError", "problem": what, "found": error.strerror,
                "todo": "Count or filter the rows first."}  # fmt: skip
    except (OverflowError, ValueError) as error:
        return {"error": "QueryError", "problem": "a value of the answer cannot be shown",
                "found": type(error).__name__,
                "todo": "Cast the column, as in CAST(x AS VARCHAR)."}  # fmt: skip


def _answer(request: dict[str, Any]) -> list[str]:
    connection = open_fenced(Path(request["warehouse"]))
    statement = one_reading_statement(connection, request["sql"])
    number = request["file"]
    try:
        if request["format"] == "parquet":
            with os.fdopen(number, "wb", closefd=False) as file:
                return answer_forms.write_parquet(connection.sql(statement.query), file)
        result = connection.execute(statement)
        with os.fdopen(number, "w", encoding="utf-8", newline="", closefd=False) as out:
            return TEXTS[request["format"]](result, out)
    except duckdb.Error as error:
        raise failed(error) from error


def main() -> None:
    """Answer one request."""
    request = json.loads(sys.stdin.buffer.readline())
    limit(request["memory"], request["seconds"], request["largest"])
    # The engine draws its progress on stdout, where the outcome alone may stand.
    outcome = os.dup(sys.stdout.fileno())
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    with os.fdopen(outcome, "w", encoding="utf-8") as stream:
        stream.write(json.dumps(answer(request)))


if __name__ == "__main__":
    main()
