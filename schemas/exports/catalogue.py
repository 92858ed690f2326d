"""Every exported and reference table, and what readers of a declaration need to know."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from schemas.declare import PEOPLE_UNITS, Table
from schemas.exports.chamber_runs import ChamberRuns
from schemas.exports.climate_normals import ClimateNormals
from schemas.exports.device_models import DeviceModels
from schemas.exports.devices import Devices
from schemas.exports.dose_checks import DoseChecks
from schemas.exports.dryer_events import DryerEvents
from schemas.exports.dryers import Dryers
from schemas.exports.repeat_measurements import RepeatMeasurements
from schemas.exports.service_events import ServiceEvents
from schemas.exports.sessions import Sessions
from schemas.exports.sites import Sites
from schemas.exports.visit_counts import VisitCounts
from schemas.rules import Rule

EXPORTS: dict[str, type[Table]] = {
    "sessions": Sessions,
    "chamber_runs": ChamberRuns,
    "dose_checks": DoseChecks,
    "repeat_measurements": RepeatMeasurements,
    "service_events": ServiceEvents,
    "visit_counts": VisitCounts,
}
REFERENCE: dict[str, type[Table]] = {
    "sites": Sites,
    "dryers": Dryers,
    "dryer_events": DryerEvents,
    "device_models": DeviceModels,
    "climate_normals": ClimateNormals,
    "devices": Devices,
}


@dataclass(frozen=True)
class ColumnSpec:
    """One declared column as screening and the dictionary read it."""

    name: str
    dtype: Any
    unit: str | None
    description: str
    required: bool
    vocabulary: tuple[str, ...] | None
    several: bool
    text: bool
    hashed: str | None
    ge: float | None
    gt: float | None
    le: float | None
    resolution: float | None
    of_load: bool = False

    @property
    def counts_people(self) -> bool:
        """Tell whether it counts people, or what single aids did."""
        return self.unit in PEOPLE_UNITS and str(self.dtype) == "Int64"


def columns_of(model: type[Table]) -> list[ColumnSpec]:
    """Return a table's columns in declared order."""
    return list(_columns_of(model))


@cache
def _columns_of(model: type[Table]) -> tuple[ColumnSpec, ...]:
    specs = []
    for name, declared in model.to_schema().columns.items():
        known: dict[str, Any] = declared.metadata or {}
        specs.append(
            ColumnSpec(
                name=name,
                dtype=declared.dtype.type,
                unit=known["unit"],
                description=declared.description or "",
                required=known["required"],
                vocabulary=known["vocabulary"],
                several=known["several"],
                text=known["text"],
                hashed=known["hashed"],
                of_load=known["of_load"],
                ge=known["ge"],
                gt=known["gt"],
                le=known["le"],
                resolution=known["resolution"],
            )
        )
    return tuple(specs)


def moment_of(model: type[Table]) -> str | None:
    """Return the column that holds the table's moment, where it has one."""
    return (model.Config.metadata or {}).get("moment")


def key_of(model: type[Table]) -> tuple[str, ...]:
    """Return the columns that tell the table's rows apart."""
    return tuple((model.Config.metadata or {}).get("key", ()))


def rules_of(model: type[Table]) -> list[Rule]:
    """Return a table's row rules in declared order."""
    own = [one.__dict__.get("rule") for one in vars(model).values() if hasattr(one, "__dict__")]
    return [rule for rule in own if isinstance(rule, Rule)]
