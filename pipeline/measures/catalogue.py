"""Every measure, found in its room; what a record says is said nowhere else."""

import importlib
import pkgutil
from collections.abc import Iterable, Iterator, Mapping
from graphlib import CycleError, TopologicalSorter

from pipeline import measures
from pipeline.disclosure.rule import Rule, StaysInside
from pipeline.errors import RegistryError
from pipeline.measures.measure import Measure
from pipeline.measures.records.analysis_set import analysis_set


def declared() -> Iterator[Measure]:
    """Find the records that the modules of every room hold, by room and module."""
    for module in pkgutil.walk_packages(measures.__path__, f"{measures.__name__}."):
        if module.name != __name__:
            held = vars(importlib.import_module(module.name)).values()
            yield from (item for item in held if isinstance(item, Measure))


def in_order(records: Iterable[Measure]) -> tuple[Measure, ...]:
    """Return the records, each after those that it needs.

    Raises:
        RegistryError: where two have one name, or one needs itself or what is not there.
    """
    by_name: dict[str, Measure] = {}
    for record in records:
        if by_name.setdefault(record.name, record) is not record:
            raise _unsound(f"two measures are called {record.name}")
    for record in by_name.values():
        if absent := set(record.needs) - by_name.keys():
            raise _unsound(f"the measure {record.name} needs {', '.join(sorted(absent))}")
    try:
        order = [*TopologicalSorter({n: r.needs for n, r in by_name.items()}).static_order()]
    except CycleError as error:
        raise _unsound(f"measures need each other: {', '.join(error.args[1])}") from error
    return tuple(by_name[name] for name in order)


def _unsound(problem: str) -> RegistryError:
    return RegistryError(
        problem, done="Nothing was counted.", todo="Mend the records in pipeline/measures."
    )


_DECLARED = tuple(declared())
MEASURES: tuple[Measure, ...] = in_order((*_DECLARED, analysis_set(_DECLARED)))
DISCLOSURE: Mapping[str, Rule] = {measure.name: measure.disclosure for measure in MEASURES}
# What the pages read, and what may leave the group: all but tables that stay inside.
SHOWN: tuple[Measure, ...] = tuple(
    measure for measure in MEASURES if not isinstance(measure.disclosure, StaysInside)
)
