"""The refresh flow: order, retries and progress; the verbs are in stages and publishing."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pipeline import publishing, stages
from pipeline.pace import Pace, Stopwatch
from pipeline.screening.order import Order, counted, fulfil
from pipeline.stages import Job

Step = Callable[..., Any]
Say = Callable[[str], None]
Counts = dict[str, Any]
Screen = Callable[[int], Counts]
Spread = Callable[[Screen, Sequence[Order]], Iterator[tuple[int, Counts]]]
Fulfil = Callable[[Order], dict[str, Any]]
# Two screen at once: what one takes of memory, twice, and most of what waits for the other.
THREADS = 2


@dataclass(frozen=True)
class Manner:
    """How the steps of a refresh are run.

    Attributes:
        step: makes a verb a step: (verb, name=…, retries=…).
        spread: screens every order, given what screens one by its number; gives the numbers and
            counts as they are done, in any order.
    """

    step: Callable[..., Step]
    spread: Spread


def plain_step(verb: Callable[..., Any], *, name: str, retries: int = 0) -> Step:
    """Run a verb as it is."""
    return verb


def one_by_one(screen: Screen, orders: Sequence[Order]) -> Iterator[tuple[int, Counts]]:
    """Screen one order after another."""
    for order in orders:
        yield order.number, screen(order.number)


def refresh_body(
    job: Job,
    dashboards: Path | None,
    manner: Manner,
    say: Say,
    fulfil: Fulfil,
    *,
    is_chosen: bool = False,
) -> None:
    """Screen what is new, build, measure, publish and render, in that order.

    A step's arguments are only numbers and names and it returns counts; the job is changed here.
    """
    if not is_chosen:
        choose(job, manner)
    orders = stages.orders_of(job)
    arrived: dict[int, Any] = {}

    def screen(number: int) -> Counts:
        arrived[number] = fulfil(orders[number])
        return counted(orders[number], arrived[number])

    pace = Pace([order.bytes for order in orders])
    with Stopwatch(job, "screen") as watch:
        for number, counts in manner.spread(screen, orders):
            stages.keep(job, arrived.pop(number))
            say(pace.told(number, counts["rows_read"], counts["files"], watch.spent))
    with Stopwatch(job, "build"):
        stages.settle_versions(job)
    publish_body(job, dashboards, manner, say)


def choose(job: Job, manner: Manner) -> None:
    """Choose the files to screen."""
    with Stopwatch(job, "choose"):
        manner.step(lambda: stages.choose(job), name="choose-files")()


def publish_body(job: Job, dashboards: Path | None, manner: Manner, say: Say) -> None:
    """Build, measure, publish and render the live parts of a settled job."""
    step = manner.step
    with Stopwatch(job, "build"):
        step(lambda: publishing.build_warehouse(job), name="build-warehouse")()
        say("built the warehouse" + (" from a copy" if job.is_incremental else ""))
    measure = step(lambda first: publishing.run_measures(job, first), name="measure")
    with publishing.kept_open(job):
        with Stopwatch(job, "build"):
            step(lambda: publishing.close_account(job), name="close-account")()
        with Stopwatch(job, "measure"):
            left = publishing.MEASURE_NAMES
            while left:
                told = measure(left[0])
                left = left[len(told) :]
                for name, rows in told.items():
                    say(f"measured {name}: {rows} rows")
    with Stopwatch(job, "publish"):
        step(lambda: publishing.commit(job), name="publish")()
    say("published the warehouse")
    if dashboards is not None:
        with Stopwatch(job, "pages"):
            step(lambda: publishing.render_published(job, dashboards), name="render-pages")()
        say("rendered the pages")


PLAIN = Manner(plain_step, one_by_one)


def run_plain(job: Job, dashboards: Path | None, say: Say) -> None:
    """Run the refresh without Prefect."""
    refresh_body(job, dashboards, PLAIN, say, fulfil_here(job))


def run_rebuild(job: Job, dashboards: Path | None, say: Say) -> None:
    """Publish a whole new warehouse from the parts that are live already."""
    stages.settle_versions(job)
    publish_body(job, dashboards, PLAIN, say)


def run_flow(job: Job, dashboards: Path | None, say: Say) -> None:
    """Run the refresh as a Prefect flow, which starts while the files are chosen."""
    from pipeline import orchestration  # noqa: PLC0415  (Prefect is slow to import)

    def body(step: Callable[..., Step], spread: Spread) -> None:
        manner = Manner(step, spread)
        refresh_body(job, dashboards, manner, say, fulfil_here(job), is_chosen=bool(begun))

    begun = orchestration.begin(job.store)
    if begun:
        choose(job, PLAIN)
    orchestration.run(job, body, begun, threads=THREADS)


def run_on_workers(
    job: Job, dashboards: Path | None, say: Say, address: str, *, plain: bool
) -> None:
    """Run the refresh with its screening on the workers of a Dask scheduler."""
    from pipeline import orchestration, workers  # noqa: PLC0415

    with workers.reached(address, job.store, job.run_id) as reached:

        def body(step: Callable[..., Step], spread: Spread) -> None:
            refresh_body(job, dashboards, Manner(step, spread), say, reached.fulfil)

        if plain:
            body(plain_step, reached.all_at_once)
        else:
            begun = orchestration.begin(job.store)
            orchestration.run(job, body, begun, threads=reached.cores)


def fulfil_here(job: Job) -> Fulfil:
    """Return what screens an order in this process."""
    return lambda order: fulfil(order, job.key)
