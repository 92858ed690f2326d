"""How words, numbers and dates may be written in an export, as expressions over text."""

import re
from collections.abc import Mapping, Sequence

import polars as pl

from pipeline.intake.mapping import Section
from schemas.declare import INSTANT
from schemas.exports.catalogue import ColumnSpec

LEAST_SHARE = 0.5
COMMA_NUMBER = r"^[+-]?\d+,\d+$"
TIME = r"(?:[ T,]+(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?(?:\.\d+)?(?:\s*([AaPp])\.?[Mm]\.?)?)?"
LAST_YEAR = rf"^(\d{{1,2}})[./-](\d{{1,2}})[./-](\d{{4}}|\d{{2}}){TIME}$"
FIRST_YEAR = rf"^(\d{{4}})[./-](\d{{1,2}})[./-](\d{{1,2}}){TIME}$"
MONTH_YEAR = r"^(\d{1,2})[./-](\d{4})$"
OTHER_DATE = r"^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}(?:\D|$)"
# A day and a clock's time as spreadsheets and loggers write them beside ISO 8601.
ISO_CLOCK = (
    r"^(\d{4}-\d{2}-\d{2})(?:[T ]00:00(?::00(?:\.0+)?)?)?[T ,]+"
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d+)?)?(?: ?([AaPp])\.?[Mm]\.?)?$"
)
# Days as a spreadsheet counts them, alone or beside a time or a part of a day.
SERIAL = r"^(\d{5})(\.\d+)?$"
SERIAL_CLOCK = (
    r"^(\d{5}|\d{4}-\d{2}-\d{2}(?:[T ]00:00:00)?) +"
    r"(0?\.\d+|0|1|\d{1,2}:\d{2}(?::\d{2})?(?: ?[AaPp][Mm])?)$"
)
SERIAL_FORM = r"^\d{5}(?:\.\d+)?(?: +[\d.:]+(?: ?[AaPp][Mm])?)?$|^\d{4}-\d{2}-\d{2}\S* +0?\.\d+$"
EPOCHS = {"1900": "1899-12-30", "1904": "1904-01-01"}
ISO_DAY = r"^\d{4}-\d{2}-\d{2}"
NOON = 12
MOMENT = "%Y-%m-%dT%H:%M:%S"


def is_dated(spec: ColumnSpec) -> bool:
    """Tell whether a column holds days or moments."""
    return bool(spec.dtype in (pl.Date, INSTANT))


def word(text: pl.Expr, words: Mapping[str, str]) -> pl.Expr:
    """Replace the site's words by the contract's, whatever their case; others stay."""
    meant = text.str.to_lowercase().replace_strict(words, default=None, return_dtype=pl.String)
    return pl.when(meant.is_null()).then(text).otherwise(meant.replace("", None))


def said_otherwise(text: pl.Expr, words: Mapping[str, str], separator: str | None) -> pl.Expr:
    """Replace each of several words in one cell and join them as the contract does."""
    element = pl.element().str.strip_chars()
    one = word(element, words) if words else element
    parts = text.str.split(separator or ";").list.eval(one).list.drop_nulls()
    return pl.when(text.is_not_null()).then(parts.list.join(";").replace("", None))


def plain_number(text: pl.Expr, section: Section) -> pl.Expr:
    """Return numbers with a decimal point and without thousands marks; null for other text."""
    mark = re.escape(section.thousands_mark) if section.thousands_mark else None
    decimal = "," if section.decimal_comma else r"\."
    grouped = rf"|\d{{1,3}}(?:{mark}\d{{3}})+" if mark else ""
    pattern = rf"^[+-]?(?:(?:\d+{grouped})(?:{decimal}\d*)?|{decimal}\d+)(?:[eE][+-]?\d{{1,3}})?$"
    value = text
    if section.thousands_mark:
        value = value.str.replace_all(section.thousands_mark, "", literal=True)
    if section.decimal_comma:
        value = value.str.replace(",", ".", literal=True)
    return pl.when(text.str.contains(pattern)).then(value)


def without_unit(text: pl.Expr, spelled: Sequence[str]) -> pl.Expr:
    """Take the declared unit off cells that carry it, in any of its spellings."""
    told = "|".join(re.escape(word) for word in sorted(spelled, key=len, reverse=True))
    pattern = rf"(?i)^([+-]?[\d.,' \u00a0\u202f]*\d) ?(?:{told})\.?$"
    return pl.coalesce(text.str.replace("μ", "µ", literal=True).str.extract(pattern, 1), text)


def clock_text(text: pl.Expr) -> pl.Expr:
    """Write an ISO day with a time of one digit or of AM and PM in ISO 8601; others stay."""
    day, hour, minute, second, half = (text.str.extract(ISO_CLOCK, at) for at in range(1, 6))
    h = _on_clock(hour, half)
    made = pl.format(
        "{}T{}:{}:{}", day, h.cast(pl.String).str.zfill(2), minute, second.fill_null("00")
    )
    is_plain = text.str.contains(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d+)?)?$")
    return pl.when(~is_plain & made.is_not_null()).then(made).otherwise(text)


def _on_clock(hour: pl.Expr, half: pl.Expr) -> pl.Expr:
    """Return the hour of 24, null where a clock with AM and PM shows no such hour."""
    h = hour.cast(pl.Int32, strict=False)
    afternoon = half.str.to_lowercase() == "p"
    return (
        pl.when(half.is_null())
        .then(h)
        .when((h < 1) | (h > NOON))
        .then(None)
        .otherwise(h % NOON + pl.when(afternoon).then(NOON).otherwise(0))
    )


def serial_text(text: pl.Expr, system: str) -> pl.Expr:
    """Write a spreadsheet's day numbers, with their part of a day, in ISO 8601; others stay.

    A day number and a time, or a day and a part of a day, may stand in two columns joined by a
    space.
    """
    epoch = pl.lit(EPOCHS[system]).str.to_datetime("%Y-%m-%d", time_unit="us")
    whole = text.str.extract(SERIAL, 1).cast(pl.Int64, strict=False)
    part = text.str.extract(SERIAL, 2).cast(pl.Float64, strict=False)
    first, time = text.str.extract(SERIAL_CLOCK, 1), text.str.extract(SERIAL_CLOCK, 2)
    joined_day = first.str.slice(0, 10).str.to_datetime("%Y-%m-%d", time_unit="us", strict=False)
    joined_day = joined_day.fill_null(epoch + pl.duration(days=first.cast(pl.Int64, strict=False)))
    share = pl.when(time.str.contains(r"^[\d.]+$")).then(time).cast(pl.Float64, strict=False)
    day = epoch + pl.duration(days=whole)
    moved = day + pl.duration(seconds=(part * 86_400).round(0).cast(pl.Int64))
    both = joined_day + pl.duration(seconds=(share * 86_400).round(0).cast(pl.Int64))
    return pl.coalesce(
        moved.dt.strftime(MOMENT),
        pl.when(part.is_null()).then(day).dt.strftime("%Y-%m-%d"),
        both.dt.strftime(MOMENT),
        pl.format("{} {}", joined_day.dt.strftime("%Y-%m-%d"), time),
        text,
    )


def _fields(text: pl.Expr, order: str) -> tuple[str, pl.Expr, pl.Expr, pl.Expr]:
    """Return the pattern and year, month and day as text."""
    pattern = FIRST_YEAR if order == "ymd" else LAST_YEAR
    first, second, third = (text.str.extract(pattern, at) for at in (1, 2, 3))
    if order == "ymd":
        return pattern, first, second, third
    return (pattern, third, second, first) if order == "dmy" else (pattern, third, first, second)


def contradicts(text: pl.Expr, order: str) -> pl.Expr:
    """Tell dates that cannot be in the declared order and can be with day and month changed."""
    _, _, month, day = _fields(text, order)
    m, d = month.cast(pl.Int32, strict=False), day.cast(pl.Int32, strict=False)
    return ((m > 12) & (m <= 31) & (d >= 1) & (d <= 12)).fill_null(value=False)


def orders_that_fit(text: pl.Series) -> tuple[str, ...]:
    """Return the orders that none of the dates contradicts."""
    year_first = text.str.contains(r"^\d{4}").all()
    names = ("ymd",) if year_first else ("dmy", "mdy")
    against = {n: pl.select(contradicts(pl.lit(text), n)).to_series().sum() for n in names}
    return tuple(name for name, count in against.items() if not count)


def order_evidence(text: pl.Series) -> str:
    """Say which order the values allow, without showing one."""
    n = text.len()
    fits = {
        name: n - int(pl.select(contradicts(pl.lit(text), name)).to_series().sum())
        for name in ("dmy", "mdy")
    }
    return "; ".join(f"{k} of {n} dates can be '{name}'" for name, k in fits.items())


def date_text(text: pl.Expr, order: str, century: int | None, name: str) -> pl.Expr:
    """Write days and moments in ISO 8601; text in no such form stays as it is."""
    pattern, year, month, day = _fields(text, order)
    if century is not None:
        full = (year.cast(pl.Int32, strict=False) + century).cast(pl.String)
        year = pl.when(year.str.len_chars() == 2).then(full).otherwise(year)
    hour, minute, second, half = (text.str.extract(pattern, at) for at in (4, 5, 6, 7))
    on_clock = _on_clock(hour, half)
    date = pl.format("{}-{}-{}", year, month.str.zfill(2), day.str.zfill(2))
    time = pl.format(
        "T{}:{}:{}", on_clock.cast(pl.String).str.zfill(2), minute, second.fill_null("00")
    )
    whole = pl.when(hour.is_null()).then(date).otherwise(date + time)
    if name == "month":
        of_month = pl.format(
            "{}-{}", text.str.extract(MONTH_YEAR, 2), text.str.extract(MONTH_YEAR, 1).str.zfill(2)
        )
        whole = pl.coalesce(whole, of_month)
    is_iso = text.str.contains(ISO_DAY)
    usable = (year.str.len_chars() == 4) | (pl.lit(name == "month") & text.str.contains(MONTH_YEAR))
    return (
        pl.when(~is_iso & usable.fill_null(value=False) & whole.is_not_null())
        .then(whole)
        .otherwise(text)
    )
