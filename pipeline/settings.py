"""The group's settings: defaults, reading `drytally.toml`, and what differs from the defaults."""

import hashlib
import json
import tomllib
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any

from pipeline.errors import SettingError


@dataclass(frozen=True)
class WithinAidSd:
    """Default within-aid standard deviations of coupler measures, used under 50 repeat pairs."""

    hfa_gain: float = 1.0  # dB
    hfa_ospl90: float = 1.0  # dB
    thd: float = 0.25  # natural log of percent
    ein: float = 1.5  # dB


@dataclass(frozen=True)
class Tolerances:
    """Allowed distance from a model's specification; from memory of ANSI/ASA S3.22."""

    hfa_gain_db: float = 5.0
    hfa_ospl90_db: float = 4.0
    ein_db: float = 3.0
    thd_points: float = 3.0


@dataclass(frozen=True)
class Costs:
    """What a repair and a drying run cost the group; money is shown only where all are given.

    Each is in the group's own currency; None until the group enters it.
    """

    repair_in_warranty: float | None = None
    repair_out_of_warranty: float | None = None
    chamber_per_minute: float | None = None
    staff_per_minute: float | None = None
    staff_minutes_per_run: float | None = None
    chamber_per_month: float | None = None  # what it costs whether it runs or not
    warranty_months: float | None = None  # age at which an aid's warranty ends


@dataclass(frozen=True)
class Claim:
    """A share claimed elsewhere, to be set beside the group's own; listed as [[claims]]."""

    name: str
    share: float
    condition_before: str
    definition: str
    source: str
    unit: str = "first_cycle"


CLAIMABLE = {
    "dead": ("sounds_again", "back_to_normal"),
    "weak": ("back_to_normal", "improved"),
    "other_fault": ("back_to_normal",),
    "normal": ("improved", "worsened", "mixed", "unchanged", "any_positive_change"),
}
UNITS = ("first_cycle", "episode")


@dataclass(frozen=True)
class Settings:
    """Everything a group may choose; each page states what differs from these defaults.

    None: not set, and what rests on it is not shown.
    """

    group_name: str = "the group"
    confidence_level: float = 0.95
    smallest_cell: int = 11
    episode_gap_days: int = 14
    dose_check_overdue_days: int = 90
    cycle_minutes_flag: float = 180.0
    worthwhile_net_benefit: float = 0.05  # difference of shares
    net_confidence: float = 0.99  # level at which the net benefit of routine drying is decided
    acceptable_excess_stopped: float = 0.01  # dried less cleaned only, share of aids that stop
    acceptable_excess_unknown: float = 0.02  # the same with aids without an "after" as stopped
    excess_worth_finding: float = 0.03  # share of working aids worsened beyond the other sites'
    edition: str | None = None  # "inside" or "shared"; None: as the store was made
    report_months: int = 24  # months that comparisons, rates and the first page cover; 0: all
    link_wearers_across_sites: bool = False
    moisture_action_level_ul: float | None = None
    share_recovering_anyway: float | None = None
    within_aid_sd: WithinAidSd = field(default_factory=WithinAidSd)
    tolerances: Tolerances = field(default_factory=Tolerances)
    costs: Costs = field(default_factory=Costs)
    trend_baseline_months: int = 0  # 0: all months set the centre and limits of a trend
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


_RANGES: dict[str, tuple[float, float]] = {
    "confidence_level": (0.5, 0.999),
    "smallest_cell": (1, 1000),
    "episode_gap_days": (1, 365),
    "dose_check_overdue_days": (1, 3650),
    "cycle_minutes_flag": (1, 1440),
    "worthwhile_net_benefit": (0.005, 0.5),
    "net_confidence": (0.8, 0.999),
    "acceptable_excess_stopped": (0.001, 0.2),
    "acceptable_excess_unknown": (0.001, 0.5),
    "excess_worth_finding": (0.005, 0.5),
    "report_months": (0, 240),
    "moisture_action_level_ul": (0.01, 1000),
    "share_recovering_anyway": (0, 1),
    "trend_baseline_months": (0, 240),
    "costs.staff_minutes_per_run": (0, 1440),
    "costs.warranty_months": (0, 240),
}

_WORDS = {"edition": ("inside", "shared")}


def shown(value: Any) -> str:
    """Return a setting's value as a reader sees it."""
    if isinstance(value, tuple):
        return "; ".join(f"{claim['name']}: {claim['share']}" for claim in value) or "none"
    return "not set" if value is None else str(value)


def read_settings(file: Path) -> Settings:
    """Read a settings file; a missing file means the defaults.

    Raises:
        SettingError: on unreadable TOML, an unknown name, a wrong type or a value out of range.
    """
    if not file.exists():
        return Settings()
    try:
        given = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingError(f"{file.name}: not readable as TOML ({error})") from error
    merged: Settings = _merged(Settings(), given, file.name, "")
    return merged


def _merged(default: Any, given: dict[str, Any], where: str, prefix: str) -> Any:
    known = {item.name for item in fields(default)}
    changes: dict[str, Any] = {}
    for name, value in given.items():
        label = prefix + name
        if name not in known:
            raise SettingError(
                f"{where}: unknown setting '{label}'", expected=", ".join(sorted(known))
            )
        old = getattr(default, name)
        if label == "claims":
            changes[name] = _claims(value, where)
        elif hasattr(old, "__dataclass_fields__"):
            if not isinstance(value, dict):
                raise SettingError(f"{where}: '{label}' must be a section [{label}]")
            changes[name] = _merged(old, value, where, f"{label}.")
        else:
            changes[name] = _checked(label, old, value, where)
    return replace(default, **changes)


def _claims(given: Any, where: str) -> tuple[Claim, ...]:
    if not isinstance(given, list) or not all(isinstance(item, dict) for item in given):
        raise SettingError(f"{where}: 'claims' must be a list of sections [[claims]]")
    found = tuple(_claim(item, f"{where}: claim {at}") for at, item in enumerate(given, start=1))
    names = [claim.name for claim in found]
    for name in names:
        if names.count(name) > 1:
            raise SettingError(f"{where}: two claims are named '{name}'")
    return found


def _claim(given: dict[str, Any], where: str) -> Claim:
    known = [item.name for item in fields(Claim)]
    for name in given:
        if name not in known:
            raise SettingError(f"{where} has an unknown '{name}'", expected=", ".join(known))
    for name in known[:-1]:
        if name not in given:
            raise SettingError(f"{where} lacks '{name}'", expected=", ".join(known))
    for name, value in given.items():
        wanted = (int, float) if name == "share" else str
        if not isinstance(value, wanted) or isinstance(value, bool) or value == "":
            raise SettingError(f"{where}: '{name}' has the wrong type", found=str(value))
    claim = Claim(**given)
    if not 0 < claim.share < 1:
        raise SettingError(f"{where}: 'share' is out of range", found=str(claim.share),
                           expected="above 0 and below 1")  # fmt: skip
    words = {
        "condition_before": tuple(CLAIMABLE),
        "definition": CLAIMABLE.get(claim.condition_before, ()),
        "unit": UNITS if "improved" not in CLAIMABLE.get(claim.condition_before, ())
        or claim.definition == "back_to_normal" else UNITS[:1],
    }  # fmt: skip
    for name, allowed in words.items():
        if getattr(claim, name) not in allowed:
            raise SettingError(
                f"{where}: '{name}' is not a word of its list",
                found=str(getattr(claim, name)),
                expected=", ".join(allowed),
            )
    return claim


def _checked(label: str, old: Any, value: Any, where: str) -> Any:
    if label in _WORDS:
        if value not in _WORDS[label]:
            raise SettingError(
                f"{where}: '{label}' is not a word of its list",
                found=str(value),
                expected=", ".join(_WORDS[label]),
            )
        return value
    is_number = isinstance(value, int | float) and not isinstance(value, bool)
    old = 0.0 if old is None else old  # what is not set by default is a number
    if isinstance(old, float) and is_number:
        value = float(value)
    if type(value) is not type(old):
        raise SettingError(
            f"{where}: '{label}' has the wrong type",
            found=type(value).__name__,
            expected=type(old).__name__,
        )
    if is_number:
        low, high = _RANGES.get(label, (0.0, 1e6))
        if not low <= value <= high:
            raise SettingError(
                f"{where}: '{label}' is out of range",
                found=str(value),
                expected=f"{low} to {high}",
            )
    return value


def _flat(tree: dict[str, Any], prefix: str = "") -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in tree.items():
        out |= (
            _flat(value, f"{prefix}{name}.") if isinstance(value, dict) else {prefix + name: value}
        )
    return out
