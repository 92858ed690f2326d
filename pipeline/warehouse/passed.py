"""Select lists of columns that pass through, made from the classes that declare them."""

from collections.abc import Iterable
from math import log10

from pipeline.warehouse.connect import quoted, sql
from schemas.exports.catalogue import ColumnSpec, columns_of
from schemas.exports.chamber_runs import ChamberRuns
from schemas.exports.devices import Devices
from schemas.exports.sessions import Sessions
from schemas.facts.columns import of_load, shared
from schemas.vocabulary import CLIMATE_LETTER, NO_CLIMATE

# A log's water counts as a whole, reading and "below detection" together.
WATER = ("moisture_ul", "is_moisture_below_detection")
LOAD = of_load()
LOGGED = [spec for spec in columns_of(ChamberRuns) if spec.name in LOAD]


def passed(name: str) -> str:
    """Return a query of this package, the columns that only pass through filled in."""
    return sql(name, **_PARTS.get(name, {}))


def _list(terms: Iterable[str]) -> str:
    return ", ".join(terms)


def _of(alias: str) -> str:
    return _list(f"{alias}.{name}" for name in LOAD)


def _names(columns: Iterable[str]) -> str:
    return _list(quoted(name) for name in columns)


def _as_text(alias: str, spec: ColumnSpec) -> str:
    """Return a column as text, a number at its stored resolution."""
    place = f"{alias}.{spec.name}"
    if spec.resolution is None:
        return f"{place}::VARCHAR"
    return f"round({place}, {round(-log10(spec.resolution))})::VARCHAR"


_COMPARED = [spec for spec in LOGGED if str(spec.dtype) != "Boolean"]
_PARTS = {
    "session_reading": {
        "read": _of("p"),
        "agreed": _list(
            f"CASE WHEN min({name}) = max({name}) THEN min({name}) END AS {name}" for name in LOAD
        ),
        "alone": _list(LOAD),
        "disagreed": " OR ".join(f"coalesce(min({name}) <> max({name}), false)" for name in LOAD),
        "judged": _of("j"),
    },
    "session_conflict": {
        "read": _of("p"),
        "names": _names(LOAD),
        "values": _list(f"{name}::VARCHAR" for name in LOAD),
    },
    "session_joined": {
        "logged": _list(
            f"coalesce(u.{spec.name}, p.{spec.name}) AS {spec.name}"
            for spec in LOGGED
            if spec.name not in WATER
        ),
    },
    "run_conflict": {
        "names": _names(spec.name for spec in _COMPARED),
        "found": _list(_as_text("p", spec) for spec in _COMPARED),
        "logged": _list(_as_text("u", spec) for spec in _COMPARED),
    },
    "session_aid": {
        "load": _list(LOAD),
        "inherited": _list(
            f"coalesce(p.{name}, d.{name}) AS {name}" for name in shared(Sessions, Devices)
        ),
    },
    "site": {
        "groups": " ".join(
            f"WHEN '{letter}' THEN '{group}'" for group, letter in CLIMATE_LETTER.items()
        ),
        "no_climate": NO_CLIMATE,
    },
}
