"""What is likely wrong with a file although every row is sound: warnings, never refusals.

Each file is set against the site's other files of the same table.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from statistics import median

import polars as pl
from scipy.special import ndtri

from pipeline.statistics.late import stats
from schemas.exports.catalogue import EXPORTS, ColumnSpec, columns_of

LEAST_HERE, LEAST_OTHER, LEAST_MONTHS = 12, 30, 3
FAR, NEAR, TIMES = 5.0, 2.0, 3.0
WORDS_FAR, WORDS_NEAR = 0.35, 0.15
RARE, USUAL, LEAST_MISSING = 1e-4, 0.05, 0.2
SAME_ROWS, LEAST_KINDS = 0.8, 8
HALF = 0.5
MOST_FILES = 60
SIGNATURE = ("device_style", "condition_before", "condition_after", "moisture_ul", "cycle_minutes",
             "chamber_temp_max_c", "reading_ul", "dose_ul")  # fmt: skip
MAD_TO_SD = 1 / float(ndtri(0.75))
Middles = dict[str, tuple[float, float]]


@dataclass(frozen=True)
class Rows:
    """The accepted rows of one file.

    Attributes:
        file: its name as it may be shown.
        table: its table.
        order: earlier files come first.
        frame: the rows, typed.
    """

    file: str
    table: str
    order: tuple[int, str]
    frame: pl.DataFrame

    @cached_property
    def signature(self) -> tuple[list[str], pl.Series]:
        """The columns that tell its rows from others, and a hash of each row."""
        names = [n for n in SIGNATURE if n in self.frame.columns]
        return names, self.frame.select(names).hash_rows()


def warnings_of(files: Sequence[Rows], only: frozenset[str] | None = None) -> dict[str, list[str]]:
    """Return sentences by file about what is likely wrong, for the files of one site.

    Args:
        files: the site's files.
        only: the files to look at; None looks at all. Each is set against the others of its
            table, the last `MOST_FILES` of them.
    """
    out: dict[str, list[str]] = {}
    for one in files:
        if only is not None and one.file not in only:
            continue
        others = [f for f in files if f.table == one.table and f.file != one.file][-MOST_FILES:]
        found = list(_of_file(one, others))
        if found:
            out[one.file] = found
    return out


def _of_file(one: Rows, others: Sequence[Rows]) -> Iterator[str]:
    if one.frame.height < LEAST_HERE or one.table not in EXPORTS:
        return
    specs = columns_of(EXPORTS[one.table])
    rest = pl.concat([f.frame for f in others], how="diagonal") if others else one.frame.clear()
    numbers = [s for s in specs if s.dtype in (pl.Float64, pl.Int64) and s.name in one.frame]
    own = _middles(one.frame, [s.name for s in numbers], LEAST_HERE)
    usual = _middles(rest, own, LEAST_OTHER)
    swapped = list(_swapped_numbers(own, usual))
    yield from (sentence for _, sentence in swapped)
    taken = {name for names, _ in swapped for name in names}
    yield from _jumped(own, usual, [s for s in numbers if s.name not in taken])
    yield from _swapped_words(one.frame, rest)
    yield from _missing(one.frame, rest, specs)
    yield from _copied(one, others)
    yield from _shrunk(one, rest)


def _middles(frame: pl.DataFrame, names: Iterable[str], least: int) -> Middles:
    """Return median and scaled median absolute deviation of each column with values enough."""
    known = [name for name in names if name in frame.columns]
    column = pl.col(known).cast(pl.Float64)
    counts, middles, spreads = frame.select(
        pl.struct(column.count()).alias("n"),
        pl.struct(column.median()).alias("middle"),
        pl.struct((column - column.median()).abs().median() * MAD_TO_SD).alias("spread"),
    ).row(0) if known else ({}, {}, {})  # fmt: skip
    return {
        name: (middles[name], max(spreads[name], 0.02 * abs(middles[name]), 1e-6))
        for name in known
        if counts[name] >= least
    }


def _swapped_numbers(here: Middles, rest: Middles) -> Iterator[tuple[tuple[str, str], str]]:
    """Tell two columns whose values lie where the other's do in the site's other files."""
    names = [name for name in here if name in rest and name != "replicate"]
    for a, b in combinations(names, 2):
        (here_a, _), (here_b, _) = here[a], here[b]
        (usual_a, spread_a), (usual_b, spread_b) = rest[a], rest[b]
        is_off = abs(here_a - usual_a) > FAR * spread_a and abs(here_b - usual_b) > FAR * spread_b
        fits = abs(here_a - usual_b) < NEAR * spread_b and abs(here_b - usual_a) < NEAR * spread_a
        if is_off and fits:
            yield (
                (a, b),
                (
                    f"{a} and {b} are likely swapped: the middle values here are {here_a:g} and"
                    f" {here_b:g}, in the site's other files {usual_a:g} and {usual_b:g}"
                ),
            )


def _jumped(here: Middles, rest: Middles, numbers: Sequence[ColumnSpec]) -> Iterator[str]:
    """Tell a column whose middle value is another by several times: another unit, perhaps."""
    for spec in numbers:
        own, usual = here.get(spec.name), rest.get(spec.name)
        if own is None or usual is None or spec.unit is None or usual[0] == 0:
            continue
        ratio = own[0] / usual[0]
        is_far = abs(own[0] - usual[0]) > FAR * usual[1]
        if is_far and not 1 / TIMES < ratio < TIMES:
            yield (
                f"{spec.name} jumped: the middle value is {own[0]:g} {spec.unit}, in the site's"
                f" other files {usual[0]:g}; is it in another unit?"
            )


def _swapped_words(here: pl.DataFrame, rest: pl.DataFrame) -> Iterator[str]:
    """Tell a condition before and after that read like each other's."""
    names = ("condition_before", "condition_after")
    if not set(names) <= set(here.columns):
        return
    own = [_shares(here, name, LEAST_HERE) for name in names]
    usual = [_shares(rest, name, LEAST_OTHER) for name in names]
    if None not in own and None not in usual:
        apart = [_apart(own[i], usual[i]) for i in (0, 1)]
        crossed = [_apart(own[i], usual[1 - i]) for i in (0, 1)]
        if min(apart) > WORDS_FAR and max(crossed) < WORDS_NEAR:
            yield (
                "condition_before and condition_after are likely swapped: each reads as the other"
                " does in the site's other files"
            )
    elif None not in own and len(own) == 2:
        before, after = (float((shares or {}).get("normal", 0.0)) for shares in own)
        if before - after > HALF:
            yield (
                f"condition_before and condition_after may be swapped: {before:.0%} work before"
                f" drying and {after:.0%} after"
            )


def _shares(frame: pl.DataFrame, name: str, least: int) -> dict[str, float] | None:
    if name not in frame.columns or frame[name].drop_nulls().len() < least:
        return None
    counts = frame[name].drop_nulls().value_counts()
    total = int(counts["count"].sum())
    return {word: n / total for word, n in counts.iter_rows()}


def _apart(one: dict[str, float] | None, other: dict[str, float] | None) -> float:
    words = {*(one or {}), *(other or {})}
    return sum(abs((one or {}).get(w, 0.0) - (other or {}).get(w, 0.0)) for w in words) / 2


def _missing(here: pl.DataFrame, rest: pl.DataFrame, specs: Sequence[ColumnSpec]) -> Iterator[str]:
    """Tell ids that are missing more often than is usual at the site."""
    for spec in specs:
        if spec.hashed not in {"device", "wearer"} or spec.name not in here.columns:
            continue
        gone, n = here[spec.name].null_count(), here.height
        usual = USUAL
        if rest.height >= LEAST_OTHER:
            usual = max(rest[spec.name].null_count() / rest.height, USUAL)
        chance = float(stats.binom.sf(gone - 1, n, min(usual, 0.999)))
        if gone > LEAST_MISSING * n and chance < RARE:
            told = f"usual are {usual:.0%}" if rest.height >= LEAST_OTHER else "few is usual"
            yield f"{spec.name} is missing in {gone} of {n} rows; {told}: such aids have no history"


def _copied(one: Rows, others: Sequence[Rows]) -> Iterator[str]:
    """Tell a file whose rows are those of an earlier one under other days."""
    names, own = one.signature
    numbers = [n for n in names if one.frame[n].dtype == pl.Float64]
    if not numbers or one.frame.select(numbers).n_unique() < LEAST_KINDS:
        return
    for other in sorted(others, key=lambda f: f.order):
        if other.order >= one.order or not set(names) <= set(other.frame.columns):
            continue
        known, theirs = other.signature
        if known != names:
            theirs = other.frame.select(names).hash_rows()
        n = min(own.len(), theirs.len())
        if n < LEAST_HERE:
            continue
        same = (own.head(n) == theirs.head(n)).sum()
        if same > SAME_ROWS * n:
            yield (
                f"{same} of the first {n} rows repeat those of {other.file} under other days:"
                " a copy of it?"
            )
            return


def _shrunk(one: Rows, rest: pl.DataFrame) -> Iterator[str]:
    """Tell a month with under half the rows that the site's other months have."""
    if "local_date" not in one.frame.columns or "local_date" not in rest.columns:
        return
    month = pl.col("local_date").dt.truncate("1mo")
    whole = pl.concat([one.frame.select("local_date"), rest.select("local_date")]).drop_nulls()
    counts = sorted(whole.group_by(month.alias("month")).len().iter_rows())
    if len(counts) < LEAST_MONTHS + 2:
        return
    inner = counts[1:-1]  # the first and the last may be cut off
    here = set(one.frame.select(month.unique().alias("month"))["month"].drop_nulls().to_list())
    for when, n in inner:
        usual = float(median(other for at, other in inner if at != when))
        if when not in here or n >= HALF * usual:
            continue
        if float(stats.poisson.cdf(n, usual)) < RARE:
            yield (
                f"{when:%Y-%m} has {n} rows, the site's other months {usual:.0f}: is a part of it"
                " missing?"
            )
