"""Cast text to the declared types, column by column, telling bad values from empty ones.

Each caster returns the typed value, null where the text is no such value; a value is bad when
there was text and the cast gave null. No number is rounded, no word guessed.
"""

from collections.abc import Mapping

import polars as pl

from schemas.declare import INSTANT
from schemas.exports.catalogue import ColumnSpec
from schemas.rules import LONGEST_TEXT

NUMBER = r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,3})?$"
WHOLE = r"^[+-]?\d{1,18}$"
DAY = r"^\d{4}-\d{2}-\d{2}$"
MONTH = r"^\d{4}-\d{2}(?:-01)?$"
LOCAL_TIME = r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?$"
OFFSET_TIME = r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?(?:Z|[+-]\d{2}:?\d{2})$"
CODE = r"^[\w][\w .+/#-]{0,39}$"
INVISIBLE = r"[\p{Cc}\p{Cf}]"
YES, NO = ("true", "yes", "1"), ("false", "no", "0")


def cast(spec: ColumnSpec) -> pl.Expr:
    """Return the typed value of one column; moments are cast by `cast_moment`."""
    text = pl.col(spec.name)
    kind = spec.dtype
    if spec.hashed is not None:
        return text
    if spec.several:
        return _words(text, spec).alias(spec.name)
    if spec.vocabulary is not None:
        return text.str.to_lowercase().alias(spec.name)
    if kind == pl.Float64:
        return _number(text).alias(spec.name)
    if kind == pl.Int64:
        whole = pl.when(text.str.contains(WHOLE)).then(text)
        return whole.cast(pl.Int64, strict=False).alias(spec.name)
    if kind == pl.Boolean:
        low = text.str.to_lowercase()
        return (
            pl.when(low.is_in(YES)).then(statement=True).when(low.is_in(NO)).then(statement=False)
        ).alias(spec.name)
    if kind == pl.Date:
        return _day(text, spec).alias(spec.name)
    if spec.text:
        return pl.when(text.str.len_chars() <= LONGEST_TEXT).then(text).alias(spec.name)
    clean = text.str.normalize("NFKC").str.replace_all(INVISIBLE, "").str.strip_chars()
    return pl.when(clean.str.contains(CODE)).then(clean).alias(spec.name)


def _number(text: pl.Expr) -> pl.Expr:
    value = pl.when(text.str.contains(NUMBER)).then(text).cast(pl.Float64, strict=False)
    vanished = (value == 0) & text.str.contains(r"^[^eE]*[1-9]")
    sound = value.is_finite() & ~vanished
    return pl.when(sound).then(value + 0.0)


def _words(text: pl.Expr, spec: ColumnSpec) -> pl.Expr:
    words = text.str.to_lowercase().str.split(";").list.eval(pl.element().str.strip_chars())
    allowed = words.list.eval(pl.element().is_in(list(spec.vocabulary or ()))).list.all()
    return pl.when(allowed).then(words)


def _day(text: pl.Expr, spec: ColumnSpec) -> pl.Expr:
    if spec.name == "month":
        month = pl.when(text.str.contains(MONTH)).then(text.str.slice(0, 7) + "-01")
        return month.str.to_date("%Y-%m-%d", strict=False)
    return pl.when(text.str.contains(DAY)).then(text).str.to_date("%Y-%m-%d", strict=False)


def cast_moment(frame: pl.DataFrame, name: str, zones: Mapping[str, str]) -> pl.DataFrame:
    """Replace a text moment by its UTC instant; add `local_date` and `time_precision`.

    A moment with an offset is exact; else it is local to the site's zone, or to the mapping's
    (`_zone`). A time that the clocks skipped or showed twice is null, unless the mapping says
    which is meant (`_repeated_hour`, `_skipped_hour`). `_clock_offset_minutes` is added to every
    moment but a date. A date alone stands for noon.

    Args:
        frame: text columns, `site_id` among them.
        name: the moment's column.
        zones: IANA zone by site.
    """
    text = pl.col(name).str.replace(" ", "T", literal=True)
    local = (
        pl.when(text.str.contains(DAY))
        .then(text + "T12:00:00")
        .when(text.str.contains(LOCAL_TIME))
        .then(pl.when(text.str.len_chars() == 16).then(text + ":00").otherwise(text))
    ).str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", time_unit="us", strict=False)
    with_offset = pl.when(text.str.contains(OFFSET_TIME)).then(
        text.str.replace("Z$", "+00:00").str.replace(r"^(.{16})([+-])", "$1:00$2")
    )
    exact = with_offset.str.to_datetime(
        "%Y-%m-%dT%H:%M:%S%.f%z", time_unit="us", time_zone="UTC", strict=False
    )
    said = {"_zone", "_repeated_hour", "_skipped_hour", "_clock_offset_minutes"} & set(
        frame.columns
    )
    usual = pl.col("site_id").replace_strict(zones, default="UTC", return_dtype=pl.String)
    is_date = pl.col(name).str.contains(DAY)
    frame = frame.with_columns(
        _local=local,
        _exact=exact,
        _zone=pl.coalesce("_zone", usual) if "_zone" in said else usual,
        time_precision=pl.when(is_date).then(pl.lit("date")).otherwise(pl.lit("instant")),
    )
    instant, day = pl.lit(None, dtype=INSTANT), pl.lit(None, dtype=pl.Date)
    for zone in sorted(set(frame["_zone"].unique().to_list())):
        here = pl.col("_zone") == zone
        moment = pl.coalesce("_exact", _settled(zone, said))
        if "_clock_offset_minutes" in said:
            shift = pl.when(~is_date).then("_clock_offset_minutes").fill_null(0.0)
            moment = moment + pl.duration(microseconds=(shift * 60_000_000).cast(pl.Int64))
        instant = pl.when(here).then(moment).otherwise(instant)
        day = pl.when(here).then(moment.dt.convert_time_zone(zone).dt.date()).otherwise(day)
    return frame.with_columns(instant.alias(name), day.alias("local_date")).drop(
        "_local", "_exact", *said | {"_zone"}
    )


def _settled(zone: str, said: set[str]) -> pl.Expr:
    """Return local times of one zone as instants; what the clocks skipped or repeated is null."""
    local = pl.col("_local")

    def settle(ambiguous: str) -> pl.Expr:
        zoned = local.dt.replace_time_zone(zone, ambiguous=ambiguous, non_existent="null")  # type: ignore[arg-type]
        return zoned.dt.convert_time_zone("UTC")

    moment = settle("null")
    if "_repeated_hour" in said:
        rule = pl.col("_repeated_hour")
        chosen = (
            pl.when(rule == "first")
            .then(settle("earliest"))
            .when(rule == "second")
            .then(settle("latest"))
        )
        moment = pl.coalesce(moment, chosen)
    if "_skipped_hour" in said:
        # The offset in force a day before went on, as a clock that was not put forward shows.
        before = (local - pl.duration(hours=24)).dt.replace_time_zone(
            zone, ambiguous="null", non_existent="null"
        ).dt.convert_time_zone("UTC") + pl.duration(hours=24)
        exists = settle("earliest").is_not_null()
        forward = pl.when((pl.col("_skipped_hour") == "forward") & ~exists).then(before)
        moment = pl.coalesce(moment, forward)
    return moment
