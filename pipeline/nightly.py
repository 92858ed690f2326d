"""The refresh as a flow that a Prefect server starts by the clock, and what serves it.

Imported by the process of each scheduled run too, so that Prefect is imported at the top; whoever
imports this settles Prefect's settings first (`orchestration.settle_environment`).
"""

import argparse
import asyncio
import os
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version as package_version
from pathlib import Path
from typing import Any

from prefect import flow
from prefect.client.orchestration import get_client
from prefect.client.schemas.filters import DeploymentFilter, FlowRunFilter
from prefect.client.schemas.objects import State, StateType
from prefect.runner import Runner
from prefect.schedules import Cron
from prefect.states import Completed, Crashed, Failed
from prefect.types.entrypoint import EntrypointType

from pipeline.commands import refresh
from pipeline.errors import DrytallyError, StoreError, UsageError

FLOW = "drytally"
ATTENTION = "NeedsAttention"


@dataclass(frozen=True)
class Nightly:
    """What is served: arguments of refresh as text, a time table and a name.

    Attributes:
        parameters: exports, store, dashboards, tables, dask; None where not given.
        cron: five fields.
        timezone: IANA name of the zone that they are in.
        name: of the deployment.
    """

    parameters: dict[str, str | None]
    cron: str
    timezone: str
    name: str


@flow(name=FLOW, validate_parameters=False)
def nightly(
    exports: str,
    store: str,
    dashboards: str | None = None,
    tables: str | None = None,
    dask: str | None = None,
) -> State[Any]:
    """Refresh a store once; its state says what `drytally refresh` says by its exit code."""
    os.umask(0o077)
    parser = argparse.ArgumentParser()
    refresh.configure(parser)
    named = {"--store": store, "--dashboards": dashboards, "--tables": tables, "--dask": dask}
    words = [exports, "--quiet"]
    for name, value in named.items():
        words += [name, value] if value is not None else []
    try:
        code = refresh.run(parser.parse_args(words))
    except DrytallyError as error:
        print(f"drytally: {error}", flush=True)
        return Failed(message=str(error))
    except Exception as error:  # its own words may quote a value, and the record is kept
        print(f"drytally: a defect of the program ({type(error).__name__})", flush=True)
        return Failed(message=f"A defect of the program ({type(error).__name__}).")
    if code == refresh.NEEDS_ATTENTION:
        return Failed(name=ATTENTION, message="Published; something needs attention: see the pages")
    return Completed(message="Published; nothing needs attention.")


def serve(given: Nightly, say: Callable[[str], None]) -> None:
    """Serve the flow until the process is ended; runs one refresh at a time.

    Raises:
        UsageError: where the time table or the zone is none.
        StoreError: where the server stops answering.
    """
    try:
        schedule = Cron(given.cron, timezone=given.timezone)
        deployment: Any = nightly.to_deployment(
            given.name, schedule=schedule, parameters=given.parameters, tags=[FLOW],
            description="drytally refresh", version=package_version("drytally"),
            entrypoint_type=EntrypointType.MODULE_PATH,
        )  # fmt: skip
    except ValueError as error:
        raise UsageError(
            f"'{given.cron}' in '{given.timezone}' is no time table",
            expected="five fields such as '30 2 * * *' and a zone such as Europe/London",
            todo="See drytally schedule --help.",
        ) from error
    runner = Runner(name=given.name, limit=1, pause_on_shutdown=False)
    try:
        served = runner.add_deployment(deployment)
        _close_ended_runs(served)
        say(f"serving {FLOW}/{given.name}: {given.cron} ({given.timezone})")
        asyncio.run(runner.start())
    except Exception as error:
        raise StoreError(
            "the schedule ended: Prefect's server no longer answers",
            found=type(error).__name__,
            done="What was published stays as it was; no further night is served.",
            todo="Start the server, then drytally schedule again.",
        ) from error


def _close_ended_runs(deployment: Any) -> None:
    """Say of runs that an earlier server of this schedule took with it that they are over."""
    states = {"type": {"any_": [StateType.RUNNING, StateType.PENDING]}}
    with get_client(sync_client=True) as client:
        left = client.read_flow_runs(
            flow_run_filter=FlowRunFilter.model_validate({"state": states}),
            deployment_filter=DeploymentFilter.model_validate({"id": {"any_": [deployment]}}),
        )
        for run in left:
            ended: State[Any] = Crashed(message="Its process was ended; the next run goes on.")
            client.set_flow_run_state(run.id, ended, force=True)


def text_of(path: Path | None) -> str | None:
    """Return a folder as a scheduled run, started elsewhere, finds it."""
    return None if path is None else str(path.resolve())
