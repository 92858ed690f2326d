"""Which column of a sample holds what: its name weighed with its values, left and right apart."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.drafting.sample import Sample
from pipeline.intake import written
from pipeline.intake.headers import likeness, plain, side_of, unit_of
from schemas.declare import INSTANT
from schemas.exports.catalogue import ColumnSpec

SURE, LIKELY, MOST_WORDS, LONGEST_WORD = 0.7, 0.45, 40, 28
NUMBER = r"^[<>≤]? ?[+-]?\d[\d.,' ]*(?: ?[^\d\s.,]{1,6})?$"
TIME = r"^\d{1,2}[:.]\d{2}(?:[:.]\d{2})?(?: ?[AaPp]\.?[Mm]\.?)?$|^0?\.\d{2,}$"
ISO = r"^\d{4}-\d{2}-\d{2}(?:[T ].*)?$"
SERIAL = r"^[3-6]\d{4}(?:\.\d+)?$"
MONTHS = (
    "january|february|march|april|may|june|july|august|september|october|november|december"
    "|januar|jänner|februar|märz|maerz|mai|juni|juli|oktober|dezember"
    "|janvier|février|fevrier|mars|avril|juin|juillet|août|aout|septembre|octobre|novembre|décembre"
    "|decembre|enero|febrero|marzo|abril|mayo|junio|julio|agosto|septiembre|octubre|noviembre"
    "|diciembre|gennaio|febbraio|aprile|maggio|giugno|luglio|settembre|ottobre|dicembre"
    "|januari|februari|maart|mei|augustus"
)
MONTH_NAME = re.compile(
    rf"(?i)(?<![^\W_])(?:{MONTHS}|jan|feb|mar|apr|jun|jul|aug|sep|sept|oct|okt|nov|dec|dez)(?![^\W_])"
)
CLOCK_HEADER = ("uhrzeit", "time", "heure", "hora", "ora", "tijd", "zeit")


@dataclass(frozen=True)
class Column:
    """One column of a sample.

    Attributes:
        header: its own name.
        name: the plain name without unit and side.
        side: "left", "right" or nothing.
        unit: the unit written in the header, if one is.
        shares: shares of its cells that read as number, date, time and day number.
        words: distinct cells.
    """

    header: str
    name: str
    side: str
    unit: str
    cells: pl.Series
    shares: Mapping[str, float]
    words: int


@dataclass
class Places:
    """What each contract column is read from, and how sure that is.

    Attributes:
        table: the table.
        whole: contract column to own headers, for the whole line.
        left, right: the same for one side.
        unsure: contract columns whose place is a question.
        dropped: own headers that fit nothing.
        score: how well the sample fits the table.
    """

    table: str
    whole: dict[str, list[str]] = field(default_factory=dict)
    left: dict[str, list[str]] = field(default_factory=dict)
    right: dict[str, list[str]] = field(default_factory=dict)
    unsure: dict[str, float] = field(default_factory=dict)
    dropped: list[str] = field(default_factory=list)
    score: float = 0.0

    def headers(self, column: str) -> list[str]:
        """Return every own header that a contract column is read from."""
        return [h for place in (self.whole, self.left, self.right) for h in place.get(column, [])]

    @property
    def columns(self) -> list[str]:
        """Return the contract columns that have a place."""
        return list(dict.fromkeys([*self.whole, *self.left, *self.right]))


def columns_in(sample: Sample) -> list[Column]:
    """Describe every column of a sample."""
    out = []
    for header in sample.header:
        bare, unit = unit_of(header)
        name, side = side_of(bare)
        cells = sample.cells(header)
        n = cells.len() or 1
        shares = {
            kind: float(cells.str.contains(form).sum()) / n
            for kind, form in (
                ("number", NUMBER), ("time", TIME), ("serial", SERIAL), ("iso", ISO),
                ("date", written.OTHER_DATE),
            )
        }  # fmt: skip
        distinct = cells.str.to_lowercase().n_unique()
        out.append(Column(header, name, side, unit, cells, shares, distinct))
    return out


def fit(column: Column, spec: ColumnSpec) -> float:
    """Return how well a column's values can be those of a contract column, 0 to 1."""
    n, shares = column.cells.len(), column.shares
    if n == 0:
        return 0.5
    dated = shares["iso"] + shares["date"]
    if spec.hashed is not None:
        return 0.0 if dated > 0.5 else 0.9
    if spec.dtype in (INSTANT, pl.Date):
        return 1.0 if max(dated, shares["time"], shares["serial"]) > 0.8 else 0.0
    if spec.vocabulary is not None:
        longest = max(map(len, column.cells), default=0)
        numeric = shares["number"] + dated > 0.5
        if numeric or column.words > MOST_WORDS or longest > LONGEST_WORD * 2:
            return 0.0
        known = column.cells.str.to_lowercase().str.replace_all("[ -]", "_")
        return 0.85 + 0.15 * float(known.is_in(list(spec.vocabulary)).sum()) / n
    if spec.dtype in (pl.Float64, pl.Int64):
        return 1.0 if shares["number"] > 0.6 and dated < 0.2 else 0.0
    if spec.dtype == pl.Boolean:
        return 0.9 if column.words <= 2 else 0.0
    return 0.0 if dated > 0.5 else 0.8


def placed(columns: Sequence[Column], table: str, specs: Sequence[ColumnSpec]) -> Places:
    """Give each contract column of one table the own column that fits it best."""
    out = Places(table)
    known = {spec.name: spec for spec in specs}
    scores = []
    for at, column in enumerate(columns):
        like = likeness(column.name)
        if column.header in known:
            like = {column.header: 1.2}
        for name, score in like.items():
            if name in known and (value := score * fit(column, known[name])) > 0:
                scores.append((value, -at, name, column))
    used: set[str] = set()
    moment = next((s.name for s in specs if s.dtype == INSTANT), None)
    for value, _, name, column in sorted(scores, key=lambda one: (-one[0], -one[1], one[2])):
        place = getattr(out, column.side or "whole") if "ear" in known else out.whole
        other = column.header in used
        if other or value < LIKELY or (name in place and name != moment):
            continue
        if name in place and not _completes(place[name], column, columns):
            continue
        if column.side and name in out.whole:
            continue
        place.setdefault(name, []).append(column.header)
        used.add(column.header)
        if len(place[name]) == 1:
            out.score += min(value, 1.0)
        if value < SURE:
            out.unsure[name] = min(value, out.unsure.get(name, 1.0))
    _keep_pairs(out, used)
    _order_moment(out, moment, columns)
    for spec in specs:
        if spec.required and spec.name != "site_id" and spec.name not in out.columns:
            out.score -= 1.0
    out.dropped = [column.header for column in columns if column.header not in used]
    return out


def _completes(taken: Sequence[str], column: Column, columns: Sequence[Column]) -> bool:
    """Tell whether a day and a time stand in two columns."""
    if len(taken) != 1:
        return False
    first = next(c for c in columns if c.header == taken[0])
    pair = sorted((_is_clock(first), _is_clock(column)))
    return pair == [False, True]


def _is_clock(column: Column) -> bool:
    return column.shares["time"] > 0.8 and column.shares["iso"] + column.shares["date"] < 0.2


def _order_moment(out: Places, moment: str | None, columns: Sequence[Column]) -> None:
    for place in (out.whole, out.left, out.right):
        own = place.get(moment or "", [])
        if len(own) == 2:
            clocks = {c.header for c in columns if _is_clock(c)}
            own.sort(key=lambda header: header in clocks)


def _keep_pairs(out: Places, used: set[str]) -> None:
    """Columns of one side alone are columns of the whole line."""
    if not out.left or not out.right or not set(out.left) & set(out.right):
        for place in (out.left, out.right):
            for name, own in list(place.items()):
                if name not in out.whole:
                    out.whole[name] = own
                else:
                    used -= set(own)
                del place[name]


def best(columns: Sequence[Column], tables: Mapping[str, Sequence[ColumnSpec]]) -> list[Places]:
    """Return every table with the places its columns would take, the best fit first."""
    found = [placed(columns, name, specs) for name, specs in tables.items()]
    return sorted(found, key=lambda p: -p.score)


def pattern_of(name: str) -> str:
    """Return a pattern of file names like the sample's: dates, months and numbers are free."""
    stem, dot, ending = name.rpartition(".")
    free = re.sub(r"\d[\d._-]*\d|\d", "*", MONTH_NAME.sub("*", stem))
    return f"{re.sub(r'[*]+', '*', free)}{dot}{ending}"


def is_plain(header: str, column: str) -> bool:
    """Tell whether a header is the contract's own name."""
    return header == column or plain(header) == column.replace("_", " ")
