"""The group's settings: defaults, ranges, and what differs from the defaults."""

import hashlib
import json
from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from annotated_types import Interval, MinLen, doc

from schemas.measure_words import UNIT_OF_COUNT
from schemas.outcomes import DEFINITIONS_OF
from schemas.vocabulary import CONDITION

if TYPE_CHECKING:
    Condition = str
    UnitOfCount = str
else:
    Condition = Literal[CONDITION]
    UnitOfCount = Literal[UNIT_OF_COUNT]

Amount = Annotated[float, Interval(ge=0, le=1_000_000)]
Text = Annotated[str, MinLen(1)]
# What the library that checks a settings file is told of each record.
STRICT: dict[str, Any] = {"extra": "forbid", "allow_inf_nan": False}


@dataclass(frozen=True)
class WithinAidSd:
    """Default within-aid standard deviations of coupler measures, used under 50 repeat pairs."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    hfa_gain: Annotated[
        Amount, doc("scatter of a repeated measurement under 50 repeat pairs, dB")
    ] = 1.0
    hfa_ospl90: Annotated[Amount, doc("the same, dB")] = 1.0
    thd: Annotated[Amount, doc("the same, natural log of percent")] = 0.25
    ein: Annotated[Amount, doc("the same, dB")] = 1.5


@dataclass(frozen=True)
class Tolerances:
    """Allowed distance from a model's specification; from memory of ANSI/ASA S3.22."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    hfa_gain_db: Annotated[Amount, doc("allowed distance from a model's specification")] = 5.0
    hfa_ospl90_db: Annotated[Amount, doc("the same")] = 4.0
    ein_db: Annotated[Amount, doc("the same")] = 3.0
    thd_points: Annotated[Amount, doc("the same, points of percent")] = 3.0


@dataclass(frozen=True)
class Costs:
    """What a repair and a drying run cost the group; money is shown only where all are given.

    Each is in the group's own currency; None until the group enters it.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    repair_in_warranty: Annotated[Amount | None, doc("a repair, in the group's own currency")] = (
        None
    )
    repair_out_of_warranty: Annotated[Amount | None, doc("a repair after the warranty")] = None
    chamber_per_minute: Annotated[Amount | None, doc("a minute of a chamber")] = None
    staff_per_minute: Annotated[Amount | None, doc("a minute of staff")] = None
    staff_minutes_per_run: Annotated[
        Annotated[float, Interval(ge=0, le=1440)] | None, doc("minutes of staff a run")
    ] = None
    chamber_per_month: Annotated[
        Amount | None, doc("a chamber a month, whether it runs or not")
    ] = None
    warranty_months: Annotated[
        Annotated[float, Interval(ge=0, le=240)] | None, doc("age at which an aid's warranty ends")
    ] = None


@dataclass(frozen=True)
class Claim:
    """A share claimed elsewhere, to be set beside the group's own; listed as [[claims]]."""

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    name: Text
    share: Annotated[float, Interval(gt=0, lt=1)]
    condition_before: Condition
    definition: Text
    source: Text
    unit: UnitOfCount = UNIT_OF_COUNT[0]


CLAIMABLE = DEFINITIONS_OF


def units_of(condition_before: str, definition: str) -> tuple[str, ...]:
    """Return what the shares of one definition can be counted over."""
    is_graded = "improved" in CLAIMABLE[condition_before] and definition != "back_to_normal"
    return UNIT_OF_COUNT[:1] if is_graded else UNIT_OF_COUNT


@dataclass(frozen=True)
class Settings:
    """Everything a group may choose; each page states what differs from these defaults.

    None: not set, and what rests on it is not shown.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT
    group_name: Annotated[str, doc("the group's name on pages")] = "the group"
    confidence_level: Annotated[
        float,
        Interval(ge=0.5, le=0.999),
        doc("level of every interval but the routine-drying verdict"),
    ] = 0.95
    smallest_cell: Annotated[
        int, Interval(ge=1, le=1000), doc("the shared edition hides counts of people under it")
    ] = 11
    episode_gap_days: Annotated[
        int, Interval(ge=1, le=365), doc("days after which a problem of an aid is a new one")
    ] = 14
    dose_check_overdue_days: Annotated[
        int, Interval(ge=1, le=3650), doc("days after which a chamber is due for a dose check")
    ] = 90
    cycle_minutes_flag: Annotated[
        float, Interval(ge=1, le=1440), doc("cycles longer than this are flagged, minutes")
    ] = 180.0
    worthwhile_net_benefit: Annotated[
        float,
        Interval(ge=0.005, le=0.5),
        doc("least net benefit of routine drying worth having, difference of shares"),
    ] = 0.05
    net_confidence: Annotated[
        float, Interval(ge=0.8, le=0.999), doc("level at which that benefit is decided")
    ] = 0.99
    acceptable_excess_stopped: Annotated[
        float,
        Interval(ge=0.001, le=0.2),
        doc("dried less cleaned only, share of working aids that stop"),
    ] = 0.01
    acceptable_excess_unknown: Annotated[
        float,
        Interval(ge=0.001, le=0.5),
        doc('the same with aids without an "after" counted as stopped'),
    ] = 0.02
    excess_worth_finding: Annotated[
        float,
        Interval(ge=0.005, le=0.5),
        doc("share of working aids worsened beyond the other sites' that must not be missed"),
    ] = 0.03
    edition: Annotated[
        Literal["inside", "shared"] | None,
        doc(
            "pages for the group (`inside`) or for passing on (`shared`); not set: as the store was"
            " made"
        ),
    ] = None
    report_months: Annotated[
        int,
        Interval(ge=0, le=240),
        doc("months that rates, comparisons and the first page cover; 0 is all"),
    ] = 24
    link_wearers_across_sites: Annotated[
        bool, doc("one wearer id means one wearer at all sites")
    ] = False
    moisture_action_level_ul: Annotated[
        Annotated[float, Interval(ge=0.01, le=1000)] | None, doc("the group's own action level, µL")
    ] = None
    share_recovering_anyway: Annotated[
        Annotated[float, Interval(ge=0, le=1)] | None,
        doc("share of rescued aids thought to recover without drying"),
    ] = None
    within_aid_sd: WithinAidSd = field(default_factory=WithinAidSd)
    tolerances: Tolerances = field(default_factory=Tolerances)
    costs: Costs = field(default_factory=Costs)
    trend_baseline_months: Annotated[
        int,
        Interval(ge=0, le=240),
        doc("first months that set centre and limits of a trend; 0 is all"),
    ] = 0
    claims: tuple[Claim, ...] = ()

    def differences(self) -> dict[str, tuple[Any, Any]]:
        """Return {setting: (default, in force)} for every setting that was changed."""
        default, now = _flat(asdict(Settings())), _flat(asdict(self))
        return {name: (default[name], now[name]) for name in now if now[name] != default[name]}

    def flat(self) -> dict[str, Any]:
        """Return every setting by dotted name."""
        return _flat(asdict(self))

    @property
    def digest(self) -> str:
        """Hash of every value, so that a change recomputes measures and pages."""
        return hashlib.sha256(json.dumps(asdict(self), sort_keys=True).encode()).hexdigest()[:16]


def shown(value: Any) -> str:
    """Return a setting's value as a reader sees it."""
    if isinstance(value, tuple):
        return "; ".join(f"{claim['name']}: {claim['share']}" for claim in value) or "none"
    return "not set" if value is None else str(value)


def _flat(tree: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in tree.items():
        out |= (
            _flat(value, f"{prefix}{name}.") if isinstance(value, dict) else {prefix + name: value}
        )
    return out
