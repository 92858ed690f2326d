"""The refresh flow: order, retries and progress; the verbs are in stages and publishing."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from pipeline import publishing, stages
from pipeline.pace import Stopwatch, told_screened
from pipeline.stages import Job

Step = Callable[..., Any]
Say = Callable[[str], None]


def plain(verb: Callable[..., Any], *, name: str, retries: int = 0) -> Step:
    """Run a verb as it is."""
    return verb


def refresh_body(job: Job, dashboards: Path | None, step: Callable[..., Step], say: Say) -> None:
    """Screen what is new, build, measure, publish and render, in that order.

    Verbs are closed over the job, so that a step's arguments are only numbers and names.
    """
    with Stopwatch(job, "choose"):
        step(lambda: stages.choose_sites(job), name="find-sites")()
        step(lambda: stages.choose_files(job), name="find-files")()
    screen = step(lambda batch: stages.screen_files(job, batch), name="screen-batch", retries=2)
    with Stopwatch(job, "screen") as watch:
        for number in range(len(job.batches)):
            rows = screen(number)
            say(told_screened(job, number, rows, watch.spent))
    with Stopwatch(job, "build"):
        stages.settle_versions(job)
    publish_body(job, dashboards, step, say)


def publish_body(job: Job, dashboards: Path | None, step: Callable[..., Step], say: Say) -> None:
    """Build, measure, publish and render the live parts of a settled job."""
    with Stopwatch(job, "build"):
        step(lambda: publishing.build_warehouse(job), name="build-warehouse")()
        say("built the warehouse" + (" from a copy" if job.is_incremental else ""))
    measure = step(lambda measure: publishing.run_measure(job, measure), name="measure")
    with publishing.kept_open(job):
        with Stopwatch(job, "build"):
            step(lambda: publishing.close_account(job), name="close-account")()
        with Stopwatch(job, "measure"):
            for name in publishing.MEASURE_NAMES:
                rows = measure(name)
                say(f"measured {name}: {rows} rows")
    with Stopwatch(job, "publish"):
        step(lambda: publishing.commit(job), name="publish")()
    say("published the warehouse")
    if dashboards is not None:
        with Stopwatch(job, "pages"):
            step(
                lambda: len(
                    publishing.render_pages(job.store, job.settings, dashboards, job.unfit)
                ),
                name="render-pages",
            )()
        say("rendered the pages")


def run_plain(job: Job, dashboards: Path | None, say: Say) -> None:
    """Run the refresh without Prefect."""
    refresh_body(job, dashboards, plain, say)


def run_rebuild(job: Job, dashboards: Path | None, say: Say) -> None:
    """Publish a whole new warehouse from the parts that are live already."""
    stages.settle_versions(job)
    publish_body(job, dashboards, plain, say)


def run_flow(job: Job, dashboards: Path | None, say: Say) -> None:
    """Run the refresh as a Prefect flow, with its home inside the store."""
    from pipeline import orchestration  # noqa: PLC0415  (Prefect is slow to import)

    orchestration.run(job, dashboards, refresh_body, say)
