"""What the cells of made files may hold, and what a number or a clock's time in them means."""

import datetime as dt
import zoneinfo
from fractions import Fraction
from typing import Any

BAD = object()  # a cell that no reading of the mapping makes a value
SITE_ZONE = "Europe/Berlin"
WORDS = {
    "condition_before": ("dead", "weak", "other_fault", "normal"),
    "condition_after": ("dead", "weak", "other_fault", "normal"),
    "device_style": ("ric", "bte", "itc", "cic"),
    "ear": ("left", "right", "unknown"),
    "symptoms": ("no_sound", "weak_sound", "noisy"),
}
OWN_WORDS = {
    "dead": "Defekt", "weak": "schwächer", "other_fault": "gestört", "normal": "in Ordnung",
    "ric": "Ex-Hörer", "bte": "HdO", "itc": "Gehörgang", "cic": "tief", "left": "links",
    "right": "R", "unknown": "??", "no_sound": "kein Ton", "weak_sound": "leise",
    "noisy": "rauscht",
}  # fmt: skip
KPA_BAROMETER = Fraction(1000, 10)
# Column: {unit: meaning of a written number}, resolution, values written and their range.
UNITS: dict[str, dict[str, Any]] = {
    "moisture_ul": {"mL": lambda v: v * 1000, "mg": lambda v: v, "": lambda v: v},
    "chamber_temp_max_c": {
        "degF": lambda v: (v - 32) / Fraction(9, 5), "K": lambda v: v - Fraction(27315, 100),
        "": lambda v: v,
    },
    "cycle_minutes": {"s": lambda v: v / 60, "h": lambda v: v * 60, "": lambda v: v},
    "chamber_pressure_min_kpa_abs": {
        "mbar absolute": lambda v: v / 10, "kPa vacuum": lambda v: KPA_BAROMETER - v,
        "mmHg absolute": lambda v: v * Fraction(133322387415, 10**12), "": lambda v: v,
    },
}  # fmt: skip
WRITTEN = {  # lowest and highest number written, in hundredths or, for mL and h, finer
    ("moisture_ul", "mL"): (1, 60, 1000), ("moisture_ul", ""): (50, 6000, 100),
    ("moisture_ul", "mg"): (50, 6000, 100), ("chamber_temp_max_c", "degF"): (900, 1200, 10),
    ("chamber_temp_max_c", "K"): (30000, 32000, 100), ("chamber_temp_max_c", ""): (250, 600, 10),
    ("cycle_minutes", "s"): (300, 5000, 1), ("cycle_minutes", "h"): (20, 200, 100),
    ("cycle_minutes", ""): (50, 900, 10),
    ("chamber_pressure_min_kpa_abs", "mbar absolute"): (100, 900, 10),
    ("chamber_pressure_min_kpa_abs", "kPa vacuum"): (5000, 9800, 100),
    ("chamber_pressure_min_kpa_abs", "mmHg absolute"): (100, 900, 10),
    ("chamber_pressure_min_kpa_abs", ""): (100, 9000, 100),
}  # fmt: skip
RESOLUTION = {
    "moisture_ul": 0.01, "chamber_temp_max_c": 0.1, "cycle_minutes": 0.1,
    "chamber_pressure_min_kpa_abs": 0.01,
}  # fmt: skip
BAD_NUMBERS = (
    "n/a!",
    "12.3.4",
    "1e999",
    "nan",
    "inf",
    "=1+1",
    "<b>4</b>",
    "4 ul",
    "--4",
    "99999999",
)
TEXTS = ("=HYPERLINK(1)", "<script>x</script>", 'she said "well"', "two\nlines", "ok; fine, yes",
         "abc", "", "# no comment", "@SUM(1)")  # fmt: skip
HIDDEN = ("a\u202eb", "\u200bzero", "ä\u0308")
REQUIRED = ("started_at", "device_style", "condition_before")
SIDED = ("device_id", "device_style", "condition_before")
FAULTS = ("empty", "no_column", "twice", "order", "against", "comma", "encoding", "nul", "open")


def instant(local: dt.datetime, zone: str, repeated: str | None, skipped: bool) -> Any:
    """Return the moment of a wall clock's time in UTC, or BAD where the clock never showed it."""
    place = zoneinfo.ZoneInfo(zone)
    early, late = (local.replace(tzinfo=place, fold=n).astimezone(dt.UTC) for n in (0, 1))
    if early.astimezone(place).replace(tzinfo=None) != local:
        return early if skipped else BAD  # PEP 495: fold=0 in a gap uses the offset before it
    if early != late:
        return {"first": early, "second": late}.get(repeated or "", BAD)
    return early
