"""Prefect around the refresh: settings before its import, tasks, artifact."""

import atexit
import logging
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import polars as pl

from pipeline.errors import DrytallyError, StoreError
from pipeline.stages import Job

SETTINGS = {
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_LOGGING_LEVEL": "CRITICAL",
    "PREFECT_LOGGING_SERVER_LEVEL": "ERROR",
    "PREFECT_LOGGING_TO_API_ENABLED": "false",
    "PREFECT_RESULTS_PERSIST_BY_DEFAULT": "false",
    "PREFECT_SERVER_EPHEMERAL_STARTUP_TIMEOUT_SECONDS": "90",
    "PREFECT_CLI_PROMPT": "false",
    "DO_NOT_TRACK": "1",
}
LEASH = """
import os, signal, sys
sys.stdin.buffer.read()
try:
    with open(f"/proc/{sys.argv[1]}/cmdline", "rb") as file:
        if b"prefect" in file.read():
            os.kill(int(sys.argv[1]), signal.SIGKILL)
except OSError:
    pass
"""
CHOSEN_BY_USER = ("PREFECT_API_URL", "PREFECT_PROFILE")


def run(
    job: Job,
    dashboards: Path | None,
    body: Callable[..., None],
    say: Callable[[str], None],
) -> None:
    """Run a body as one Prefect flow.

    Raises:
        StoreError: where Prefect cannot start, with the way to go on without it.
    """
    home = job.store.prefect
    if not os.access(home, os.W_OK):
        raise StoreError(
            "Prefect's home inside the store cannot be written",
            done="Nothing was changed.",
            todo="Give the store's folder back to its owner, or run with --plain.",
        )
    os.environ["PREFECT_HOME"] = str(home.resolve())
    for name, value in SETTINGS.items():
        os.environ.setdefault(name, value)
    for name in CHOSEN_BY_USER:
        os.environ.pop(name, None)
    logging.getLogger("prefect").setLevel(logging.CRITICAL)
    from prefect import flow, task  # noqa: PLC0415

    _keep_server_quiet(home)
    failure: list[BaseException] = []

    def step(verb: Callable[..., Any], *, name: str, retries: int = 0) -> Callable[..., Any]:
        def kept(*args: int | str) -> Any:
            try:
                return verb(*args)
            except DrytallyError as error:
                failure.append(error)
                raise

        def worth_retrying(_task: object, _run: object, state: Any) -> bool:
            return not failure

        declared: Any = task  # its overloads do not take a verb with any arguments
        made: Callable[..., Any] = declared(
            kept, name=name, retries=retries, retry_condition_fn=worth_retrying
        )
        return made

    @flow(name="refresh", flow_run_name=job.run_id, validate_parameters=False)
    def refresh(run_id: str) -> None:
        body(job, dashboards, step, say)
        _artifact(job, run_id)

    try:
        refresh(job.run_id)
    except DrytallyError:
        raise
    except RuntimeError as error:
        if "server" in str(error).lower() and not job.results:
            raise StoreError(
                "Prefect could not start its local server",
                done="Nothing was changed.",
                todo="Run again with --plain to work without it.",
            ) from error
        raise


def _keep_server_quiet(home: Path) -> None:
    """Let Prefect's local server write into its own log, and end it whenever we end.

    It inherits our standard error, and outlives us where we are killed.
    """
    from prefect.server.api.server import SubprocessASGIServer  # noqa: PLC0415

    server = SubprocessASGIServer()
    start = server._run_uvicorn_command

    def started() -> Any:
        ours = os.dup(2)
        log = os.open(home / "server.log", os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
        os.dup2(log, 2)
        try:
            process = start()
        finally:
            os.dup2(ours, 2)
            os.close(ours)
            os.close(log)
        _leash(process.pid)
        return process

    server._run_uvicorn_command = started  # type: ignore[method-assign]


def _leash(server: int) -> None:
    """Start a process that waits for our end, however we end, and then ends the server."""
    leash = subprocess.Popen(  # noqa: S603  (this interpreter, our own program, no shell)
        [sys.executable, "-I", "-S", "-c", LEASH, str(server)],
        stdin=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )

    def let_go() -> None:
        leash.kill()
        if leash.stdin is not None:
            leash.stdin.close()
        leash.wait()

    atexit.register(let_go)


def _artifact(job: Job, run_id: str) -> None:
    """Leave the row account in Prefect's record: counts by status, no names."""
    from prefect.artifacts import create_table_artifact  # noqa: PLC0415

    counts = job.account.group_by("status").agg(
        pl.len().alias("files"), pl.col("rows_read", "accepted", "quarantined", "duplicate").sum()
    )
    create_table_artifact(
        key="row-account", table=counts.sort("status").to_dicts(), description=f"Run {run_id}"
    )
