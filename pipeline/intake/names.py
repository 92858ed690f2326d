"""Names of tables and files, free of heavy imports so that looking for changes is quick."""

import hashlib
import re
import zoneinfo
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime
from functools import lru_cache

EXPORT_TABLES = (
    "sessions", "chamber_runs", "dose_checks", "repeat_measurements", "service_events",
    "visit_counts",
)  # fmt: skip
TEST_BOXES = "test_boxes.csv"
PLAIN_TEXT = (".csv", ".tsv", ".txt")
# The forms in which a table is read, by the ending of its name.
FORMATS = (
    *(f"{ending}{packed}" for ending in PLAIN_TEXT for packed in ("", ".gz")), ".xlsx", ".parquet",
)  # fmt: skip
ZIP = ".zip"
REFERENCE_TABLES = (
    "sites", "dryers", "dryer_events", "device_models", "climate_normals", "devices",
)  # fmt: skip

SHOWN_ENDINGS = sorted((*FORMATS, ZIP, ".toml", ".gz"), key=len, reverse=True)
NUMERALS = {"1", "2", "3", "4", "5", "80", "90", "250", "500", "1000", "1600", "2000", "2500"}
HEADER_WORDS = frozenset(
    """
    a abs address after age aid aided aids air allowed ambient amount and appointment arrival
    assessed assessor at audiologist audiology average aware band barometer batch battery before
    below birth birthday born box branch brand by c cell chamber changed charge charger check
    checked city class cleaned cleaning climate clinic clinician closed code comment comments cond
    condition cost count country coupler cycle d date day days db dead delay delivered desc
    description detection device devices dew disposition distortion dob dome done dose double dried
    dryer drying duration ear ein elevation email employee end ended entry error event exposure f
    fax file first fitted fitting flag floor form free from full gain gender given group h half
    hearing height hfa home hour hours hpa hrs hz id ids in index info initials inner input
    installed insurance invoice is item items k kind kpa label last latitude left length level
    limit line list location log longitude low lower m maker manufacturer max mean measured medical
    member method microphone min mins minutes mixed ml mm mobile model moisture mom month months
    mould mouth moved mrn n name names new nhs no normal note notes number o occurred of off office
    old on open opened operator order ospl90 other outcome output parts patient pct per percent
    period phone pin place point post postcode power practice pre precipitation pressure price
    principle product program programme provider purpose ql quality quantity r read reading reason
    receiver record recorded ref reference region remark remarks removed repair replaced replicate
    report result return returned rh right room row run s sales second seen sensor serial service
    session set settings sex sheet side since site size sn sound source spec spl staff start
    started state status stop street style subject successor sum surname symptom symptoms t table
    tag tel telephone temp temperature test text thd time title to tolerance total town treatment
    tube type typed uk ul uncertainty unit unknown unnamed until updated upper user vacuum value
    version visit volume warranty wash water wax weak wearer week weight wet when where which whole
    width window with without word words x year years z zip zone
    """.split()  # noqa: SIM905  (a list of so many words is read as a text)
)


def safe_name(name: str, table: str | None, as_of: date | None = None) -> str:
    """Return a file's name as it may be stored: table-date.ending, else the table and a hash.

    A name can hold a person's, so anything beyond table, date and ending is hashed, and so is a
    date that can be a birth date: one before 2000, or after the year of `as_of` (today).
    """
    tail = next((ending for ending in SHOWN_ENDINGS if name.lower().endswith(ending)), "")
    stem = name[: len(name) - len(tail)]
    dated = rf"{table}([_-]\d{{4}}([_-]\d{{1,2}}([_-]\d{{1,2}})?)?)?"
    found = re.fullmatch(dated, stem) if table else None
    last = (as_of or datetime.now(UTC).date()).replace(month=12, day=31)
    if found and (not found[1] or is_dates(found[1], last)):
        return f"{stem}{tail}"
    if tail == ".toml" and stem == "mapping":
        return name
    return f"{table or 'file'}-{hashlib.sha256(name.encode()).hexdigest()[:8]}{tail}"


def patterned_name(name: str, table: str | None, patterns: Sequence[str], as_of: date) -> str:
    """Return a file's name by the pattern its site declares for such files.

    The pattern's own text is shown, and what a `*` stands for where it is made of dates from
    2000 to `as_of`; whatever else it stands for is hashed, since it can be a person's name.
    """
    plain = safe_name(name, table, as_of)
    for pattern in patterns if plain != name else ():
        found = _pattern(pattern).fullmatch(name)
        if found is None or not re.search(r"[^*.]", pattern.rpartition(".")[0] or pattern):
            continue
        digest = hashlib.sha256(name.encode()).hexdigest()[:8]
        out, end, is_hidden = "", 0, False
        for group in range(1, len(found.groups()) + 1):
            piece = found.group(group)
            out += name[end : found.start(group)]
            if not piece or is_dates(piece, as_of):
                out += piece
            elif not is_hidden:
                out, is_hidden = f"{out}-{digest}", True
            end = found.end(group)
        return out + name[end:]
    return plain


def _pattern(pattern: str) -> re.Pattern[str]:
    """Return a pattern of file names that catches what each `*` stands for; others fit nothing."""
    if "?" in pattern or "[" in pattern:
        return re.compile(r"(?!)")
    return re.compile("(.*)".join(map(re.escape, pattern.split("*"))), re.IGNORECASE)


DATES = re.compile(r"[\d ._-]*\d[\d ._-]*")
DATE_FORMS = (
    ("%Y-%m-%d", r"\d{4}-\d{1,2}-\d{1,2}"), ("%d-%m-%Y", r"\d{1,2}-\d{1,2}-\d{4}"),
    ("%Y-%m", r"\d{4}-\d{1,2}"), ("%m-%Y", r"\d{1,2}-\d{4}"), ("%Y%m%d", r"\d{8}"),
    ("%Y%m", r"\d{6}"), ("%Y", r"\d{4}"),
)  # fmt: skip


def is_dates(text: str, as_of: date) -> bool:
    """Tell whether a text is wholly dates, months or years from 2000 to a day."""
    if not DATES.fullmatch(text):
        return False
    rest = re.sub(r"[ ._-]+", "-", text).strip("-")
    while rest:
        for form, pattern in DATE_FORMS:
            found = re.match(rf"{pattern}(?:-|$)", rest)
            if found and _is_day(found.group(0).rstrip("-"), form, as_of):
                rest = rest[found.end() :]
                break
        else:
            return False
    return True


def _is_day(text: str, form: str, as_of: date) -> bool:
    try:
        day = datetime.strptime(text, form).date()
    except ValueError:
        return False
    return date(2000, 1, 1) <= day <= as_of


def is_hashed(shown: str) -> bool:
    """Tell whether a file's name stands as a hash: it held more than may be stored."""
    return bool(re.search(r"-[0-9a-f]{8}(?:\.|$)", shown))


def listed(names: Sequence[str], most: int = 12) -> str:
    """Join names for a message, the first of many and the number of the others."""
    told = ", ".join(names[:most])
    return told if len(names) <= most else f"{told} and {len(names) - most} more"


def safe_header(name: str, position: int) -> str:
    """Return a column's name as it may be shown; a header can hold a person's name too.

    Shown are names made wholly of words that tables are made of; any other only by its shape.
    """
    parts = [part for part in re.split(r"[ _-]+", name.lower()) if part]
    if len(name) <= 40 and parts and all(p in HEADER_WORDS or p in NUMERALS for p in parts):
        return name
    return f"column {position} (text, {len(name)} characters)"


def table_of(name: str, tables: Sequence[str]) -> str | None:
    """Return the table whose name the file's name starts with, or None."""
    longest_first = sorted(tables, key=len, reverse=True)
    return next((t for t in longest_first if re.match(rf"{t}(?![a-z0-9])", name.lower())), None)


@lru_cache(maxsize=1)
def known_zones() -> frozenset[str]:
    """Return the names of the IANA database, which is slow to list."""
    return frozenset(zoneinfo.available_timezones())


def usable_zones(sites: Iterable[tuple[str, str]]) -> dict[str, str]:
    """Return {site: time zone} without the sites whose zone is not in the IANA database."""
    known = known_zones()
    return {site: zone for site, zone in sites if zone in known}
