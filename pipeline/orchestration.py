"""Prefect around the refresh: settings before its import, tasks, artifact."""

import atexit
import logging
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import polars as pl

from pipeline.errors import DrytallyError, StoreError
from pipeline.screening.order import Order
from pipeline.stages import Job
from pipeline.store.layout import Store

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
# Either names a server of the user's own.
NAMED_BY = ("PREFECT_API_URL", "PREFECT_PROFILE")
ANSWER_WITHIN_S = 15
RETRIES = 2
MOST_TAGS = 50
Body = Callable[[Callable[..., Any], Callable[..., Any]], None]


class UnforeseenError(Exception):
    """A failure that no part of the program foresaw; says where, never what a library said."""


class Begun:
    """Prefect on its way: it takes seconds to start, in which other work can be done."""

    def __init__(self) -> None:
        self.problem: BaseException | None = None
        self.thread = threading.Thread(target=self._start, name="prefect", daemon=True)
        self.thread.start()

    def _start(self) -> None:
        try:
            reach()
        except BaseException as error:  # it is raised again where the start is awaited
            self.problem = error

    def wait(self) -> None:
        """Wait until Prefect's server answers.

        Raises:
            StoreError: where it does not.
        """
        self.thread.join()
        if self.problem is not None:
            raise self.problem


def begin(store: Store) -> Begun | None:
    """Start what a flow needs: the user's server, or a local one with its home in the store.

    Returns:
        None within a flow that runs already, such as a scheduled one.

    Raises:
        StoreError: where the home inside the store cannot be written.
    """
    if "prefect" in sys.modules and _is_within_flow():
        return None
    settle_environment(store.prefect)
    return Begun()


def settle_environment(home: Path) -> None:
    """Settle Prefect's settings before its import; what the user set stays.

    Raises:
        StoreError: where a local server would be needed and its home cannot be written.
    """
    if not any(os.environ.get(name) for name in NAMED_BY):
        if not os.access(home, os.W_OK):
            raise StoreError(
                "Prefect's home inside the store cannot be written",
                done="Nothing was changed.",
                todo="Give the store's folder back to its owner, or run with --plain.",
            )
        os.environ["PREFECT_HOME"] = str(home.resolve())
    for name, value in SETTINGS.items():
        os.environ.setdefault(name, value)
    logging.getLogger("prefect").setLevel(logging.CRITICAL)


def _is_within_flow() -> bool:
    from prefect.context import FlowRunContext  # noqa: PLC0415

    return FlowRunContext.get() is not None


def reach() -> None:
    """Import Prefect, start a local server where the user has none, and ask whether it answers.

    Raises:
        StoreError: where no server answers.
    """
    from prefect.client.orchestration import get_client  # noqa: PLC0415
    from prefect.settings import PREFECT_API_URL, PREFECT_HOME  # noqa: PLC0415

    url = PREFECT_API_URL.value()
    if not url:
        _keep_server_quiet(Path(PREFECT_HOME.value()))
    problem: BaseException | None
    try:
        with get_client(httpx_settings={"timeout": ANSWER_WITHIN_S}, sync_client=True) as client:
            problem = client.api_healthcheck()
    except Exception as error:
        problem = error
    if problem is None:
        return
    told = f"Prefect's server at {without_login(str(url))} does not answer"
    raise StoreError(
        told if url else "Prefect could not start its local server",
        found=type(problem).__name__,
        done="Nothing was published.",
        todo="Start it (prefect server start) or correct PREFECT_API_URL; --plain works without it."
        if url
        else "Run again with --plain to work without it.",
    ) from problem


def without_login(url: str) -> str:
    """Return an address without the name and password that it may hold."""
    parts = urlsplit(url)
    return parts._replace(netloc=parts.netloc.rpartition("@")[2]).geturl()


def run(job: Job, body: Body, begun: Begun | None, *, threads: int) -> None:
    """Run a body as one Prefect flow, or within the one that runs already.

    Args:
        job: the refresh.
        body: takes what makes a verb a task, and what screens orders as tasks.
        begun: from `begin`; None within a flow.
        threads: orders screened at once, where the user's settings do not say.

    Raises:
        StoreError: where Prefect's server does not answer.
    """
    failures: list[Exception] = []
    step, spread = _steps(failures, threads)

    def all_of_it() -> None:
        body(step, spread)
        _leave_accounts(job)

    try:
        if begun is None:
            all_of_it()
            return
        begun.wait()
        from prefect import flow  # noqa: PLC0415

        @flow(name="refresh", flow_run_name=job.run_id, validate_parameters=False)
        def refresh(run_id: str) -> None:
            all_of_it()

        refresh(job.run_id)
    except UnforeseenError:
        raise failures[-1] from None


def runner_of(threads: int) -> Any:
    """Return Prefect's runner of tasks in threads; the user's own number of them goes first."""
    from prefect.settings import PREFECT_TASKS_RUNNER_THREAD_POOL_MAX_WORKERS  # noqa: PLC0415
    from prefect.task_runners import ThreadPoolTaskRunner  # noqa: PLC0415

    own = PREFECT_TASKS_RUNNER_THREAD_POOL_MAX_WORKERS.value()
    return ThreadPoolTaskRunner(max_workers=int(own or threads))


def _steps(
    failures: list[Exception], threads: int
) -> tuple[Callable[..., Any], Callable[..., Any]]:
    """Return what makes a verb a task, and what screens orders as tasks of their own."""

    def kept(verb: Callable[..., Any]) -> Callable[..., Any]:
        def run_kept(*args: int | str) -> Any:
            try:
                return verb(*args)
            except DrytallyError:
                raise
            except Exception as error:  # the record of a run keeps what it is given for good
                failures.append(error)
                raise UnforeseenError(type(error).__name__) from None

        return run_kept

    def is_worth_another(_task: object, _run: object, state: Any) -> bool:
        return not isinstance(state.result(raise_on_failure=False), DrytallyError)

    def step(verb: Callable[..., Any], *, name: str, retries: int = 0) -> Callable[..., Any]:
        from prefect import task  # noqa: PLC0415

        declared: Any = task  # its overloads do not take a verb with any arguments
        made: Callable[..., Any] = declared(
            kept(verb), name=name, retries=retries, retry_condition_fn=is_worth_another
        )
        return made

    def spread(screen: Callable[[int], Any], orders: Sequence[Order]) -> Iterator[tuple[int, Any]]:
        from prefect.futures import as_completed  # noqa: PLC0415

        task: Any = step(screen, name="screen", retries=RETRIES)
        numbers: dict[Any, int] = {}
        with runner_of(threads) as runner:
            for order in orders:
                named = task.with_options(task_run_name=order.label, tags=order.sites[:MOST_TAGS])
                submitted = runner.submit(named, {"args": (order.number,)})
                numbers[submitted] = order.number
            for done in as_completed(list(numbers)):
                yield numbers[done], done.result()

    return step, spread


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


def _leave_accounts(job: Job) -> None:
    """Leave the row account in Prefect's record: counts by status and by site, no file's name."""
    from prefect.artifacts import create_table_artifact  # noqa: PLC0415

    rows = ("rows_read", "accepted", "quarantined", "duplicate")
    counts = pl.len().alias("files"), pl.col(*rows).sum()
    by_status = job.account.group_by("status").agg(*counts).sort("status")
    by_site = job.account.filter("is_live").group_by("site_id").agg(*counts).sort("site_id")
    for key, table in (("row-account", by_status), ("row-account-by-site", by_site)):
        create_table_artifact(key=key, table=table.to_dicts(), description=f"Run {job.run_id}")
