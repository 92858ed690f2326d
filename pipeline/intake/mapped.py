"""Turn a file as it was exported into rows of the contract, still as text.

What the mapping says is done and nothing else: a cell that is not written as the mapping says is
listed as such, a file that contradicts it is refused with the line of the mapping.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import polars as pl

from pipeline.errors import Way
from pipeline.intake import written
from pipeline.intake.distinct import distinct, read_each, read_once
from pipeline.intake.mapping import BOTH, Section
from pipeline.intake.mapping_check import BELOW, READING
from pipeline.intake.names import safe_header
from pipeline.intake.options import ReadOptions
from pipeline.intake.refusal import mapping_line, refused
from pipeline.intake.table import NO_AID, OTHER_SIDE, ROW_FAULTS, RawTable, TextTable
from pipeline.intake.unit_names import spellings, unit_meant
from pipeline.intake.units import as_text, converted
from pipeline.intake.written import LEAST_SHARE
from schemas import vocabulary
from schemas.exports.catalogue import ColumnSpec
from schemas.meaning import each_of

LINE, PART = "line", "part_of_line"
CLOCK_COLUMNS = ("_zone", "_repeated_hour", "_skipped_hour", "_clock_offset_minutes")
SIDE_NUMBER = each_of("SIDE_NUMBER", vocabulary.EAR.but("unknown"), {"left": 1, "right": 2})
EAR = "ear"
Sources = dict[str, tuple[str, ...]]


def expected_columns(section: Section, required: Sequence[str]) -> list[str]:
    """Return the file's own columns that must be in its header."""
    mapped = [
        name
        for sources in (section.columns, section.left, section.right)
        for own in sources.values()
        for name in own
    ]
    reached = {*section.columns, *section.left, *section.constants}
    if section.barometer_kpa_column:
        mapped.append(section.barometer_kpa_column)
    return list(dict.fromkeys([*mapped, *(name for name in required if name not in reached)]))


def map_table(
    raw: RawTable, section: Section, specs: Sequence[ColumnSpec], shown: str, moment: str | None
) -> TextTable:
    """Return the contract's columns of one file as text.

    Args:
        raw: the file under its own column names; every mapped column is there.
        section: what the site's mapping says of such files.
        specs: the contract's columns.
        shown: the file's name for messages.
        moment: the column that holds the table's moment.

    Raises:
        FileRefusedError: where dates, numbers or units could be read in two ways.
    """
    names = [f"c{at}" for at in range(raw.cells.width)]
    cells = raw.cells.rename(dict(zip(raw.cells.columns, names, strict=True)))
    place = dict(zip(raw.header, names, strict=True))
    blank = ["", *section.empty_words]
    given = {
        name: pl.when(~trimmed.str.to_lowercase().is_in(blank)).then(trimmed)
        for name in names
        for trimmed in [pl.col(name).str.strip_chars()]
    }
    cells = read_each(cells, given).with_columns(raw.line.alias(LINE))
    work = _File(cells, place, section, {s.name: s for s in specs}, shown)
    sides = [side for side in SIDE_NUMBER if getattr(section, side)]
    parts = [work.part(side) for side in sides] if sides else [work.part(None)]
    rows = pl.concat([rows for rows, _ in parts], how="diagonal")
    faults = pl.concat([faults for _, faults in parts] + [work.raw_faults(raw.faults, sides)])
    broken = raw.broken
    if sides:
        rows = rows.sort(LINE, PART, maintain_order=True)
        against = work.against_side()
        rows = rows.join(against, on=LINE, how="anti", maintain_order="left")
        faults = faults.join(against, on=LINE, how="anti", maintain_order="left")
        lost = cells.select(LINE).join(rows, on=LINE, how="anti", maintain_order="left")
        lost = lost.join(against, on=LINE, how="anti", maintain_order="left")
        broken = pl.concat(
            [broken]
            + [
                lines.select(
                    LINE, fields=pl.lit(kind, dtype=pl.Int64), wanted=pl.lit(0, dtype=pl.Int64)
                )
                for lines, kind in ((lost, NO_AID), (against, OTHER_SIDE))
            ]
        )
    used = work.used
    return TextTable(
        rows=rows.with_columns(_clock(section, moment)),
        broken=broken,
        rows_read=rows.height + broken.height,
        lines_read=raw.rows_read,
        skipped_lines=raw.skipped_lines,
        dropped=[safe_header(n, at + 1) for at, n in enumerate(raw.header) if n not in used],
        notes=list(raw.notes),
        faults=faults,
    )


def own_columns(raw: RawTable, section: Section, specs: Sequence[ColumnSpec]) -> dict[int, Sources]:
    """Return, for each part of a line, contract column to the file's own columns."""
    place = {name: name for name in raw.header}
    work = _File(raw.cells, place, section, {s.name: s for s in specs}, "")
    sides = [side for side in SIDE_NUMBER if getattr(section, side)]
    return {SIDE_NUMBER.get(side or "", 1): work.sources(side or None) for side in sides or ("",)}


def _clock(section: Section, moment: str | None) -> list[pl.Expr]:
    """Return what the mapping says of the clock, a value a row, where it says anything."""
    if moment is None:
        return []
    said = (
        section.zone, section.repeated_hour, section.skipped_hour,
        section.clock_offset_minutes or None,
    )  # fmt: skip
    return [
        pl.lit(value, dtype=pl.Float64 if name.endswith("minutes") else pl.String).alias(name)
        for name, value in zip(CLOCK_COLUMNS, said, strict=True)
        if value is not None
    ]


@dataclass
class _File:
    """One file's cells under plain names, and how its section maps them."""

    cells: pl.DataFrame
    place: dict[str, str]
    section: Section
    specs: dict[str, ColumnSpec]
    shown: str

    @property
    def options(self) -> ReadOptions:
        """The section's options under its name, for the lines that messages advise to add."""
        return replace(self.section.options, table_name=self.section.name)

    def sources(self, side: str | None) -> Sources:
        """Return contract column to the file's columns; a column of the contract's name counts."""
        named: Sources = dict(self.section.columns)
        if side is not None:
            named |= getattr(self.section, side)
            named.pop(EAR, None)
        taken = {source for own in self._mapped().values() for source in own}
        for name in self.place:
            if name in self.specs and name not in taken and name not in self._mapped():
                named.setdefault(name, (name,))
        return {name: own for name, own in named.items() if name not in self.section.constants}

    def _mapped(self) -> Sources:
        return {**self.section.right, **self.section.left, **self.section.columns}

    @property
    def used(self) -> set[str]:
        """The file's columns that are read."""
        sections = [self.sources(side) for side in (None, "left", "right")]
        used = {source for sources in sections for own in sources.values() for source in own}
        if self.section.left:
            used |= set(self.section.columns.get(EAR, ()))
        return used | {self.section.barometer_kpa_column or ""}

    def part(self, side: str | None) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Return the rows of the whole line or of one side, and the cells not written right."""
        sources = self.sources(side)
        cells = self.cells
        if side is not None:
            cells = cells.filter(self._has(side) & self._is_named(side))
        barometer = self._barometer(cells)
        rows = cells.select(
            LINE,
            pl.lit(SIDE_NUMBER.get(side or "", 1), dtype=pl.Int64).alias(PART),
            *(
                pl.col(self.place[own[0]]).alias(name)
                if len(own) == 1
                else pl.concat_str((pl.col(self.place[n]) for n in own), separator=" ",
                                   ignore_nulls=True).replace("", None).alias(name)
                for name, own in sources.items()
            ),
            barometer.alias("_barometer"),
        )  # fmt: skip
        rows, faults = self._read(rows, list(sources))
        constants = {**self.section.constants, **({"ear": side} if side else {})}
        if self.section.match_window_minutes is not None:
            constants["match_window_minutes"] = str(self.section.match_window_minutes)
        rows = rows.with_columns(
            pl.lit(value, dtype=pl.String).alias(name) for name, value in constants.items()
        )
        return rows.drop("_barometer"), faults

    def _has(self, side: str) -> pl.Expr:
        """Tell the lines on which one side's columns hold anything."""
        own = [self.place[n] for names in getattr(self.section, side).values() for n in names]
        return pl.any_horizontal(pl.col(own).is_not_null())

    def _side_word(self) -> pl.Expr | None:
        """Return the contract's word of the column that names the side, where one is mapped."""
        own = self.section.columns.get(EAR)
        if own is None or not self.section.left:
            return None
        cell = pl.col(self.place[own[0]])
        return written.word(cell, self.section.values.get(EAR, {})).str.to_lowercase()

    def _is_named(self, side: str) -> pl.Expr:
        """Tell the lines whose side column names this side, or both, or nothing."""
        word = self._side_word()
        if word is None:
            return pl.lit(value=True)
        return word.is_in([side, BOTH]).fill_null(value=True)

    def against_side(self) -> pl.DataFrame:
        """Return the lines whose side column is no such word, or leaves out a filled side."""
        word = self._side_word()
        if word is None:
            return self.cells.select(LINE).clear()
        other = pl.any_horizontal(self._has(side) & ~self._is_named(side) for side in SIDE_NUMBER)
        known = word.is_in([*SIDE_NUMBER, BOTH]).fill_null(value=True)
        return self.cells.filter(other | ~known).select(LINE)

    def _barometer(self, cells: pl.DataFrame) -> pl.Expr:
        column = self.section.barometer_kpa_column
        if column is None:
            return pl.lit(self.section.barometer_kpa, dtype=pl.Float64)
        plain = written.plain_number(pl.col(self.place[column]), self.section)
        return plain.cast(pl.Float64, strict=False)

    def raw_faults(self, faults: pl.DataFrame, sides: Sequence[str]) -> pl.DataFrame:
        """Tell the faults of the file's own cells under the contract's names."""
        told = [
            {"column_name": source, "canonical": name, PART: SIDE_NUMBER.get(side or "", 1)}
            for side in (sides or [None])  # type: ignore[list-item]
            for name, own in self.sources(side).items()
            for source in own
        ]
        schema = {"column_name": pl.String, "canonical": pl.String, PART: pl.Int64}
        renamed = pl.DataFrame(told, schema=schema)
        return (
            faults.select(LINE, "column_name", "kind")
            .join(renamed, on="column_name")
            .select(LINE, PART, column_name="canonical", kind="kind")
            .cast(ROW_FAULTS)  # type: ignore[arg-type]
        )

    def _read(self, rows: pl.DataFrame, names: Sequence[str]) -> tuple[pl.DataFrame, pl.DataFrame]:
        """Read every column as its mapping says."""
        section = self.section
        faults = [pl.DataFrame(schema=ROW_FAULTS)]
        if section.below_detection and READING in names:
            low = pl.col(READING).str.to_lowercase().is_in(section.below_detection)
            said = pl.when(low).then(pl.lit("true"))
            rows = rows.with_columns(
                pl.when(~low).then(READING).alias(READING),
                (pl.coalesce(said, BELOW) if BELOW in names else said).alias(BELOW),
            )
        for name in names:
            spec = self.specs[name]
            if words := section.values.get(name):
                meant = (
                    written.said_otherwise(pl.col(name), words, section.separators.get(name))
                    if spec.several
                    else written.word(pl.col(name), words)
                )
                rows = read_each(rows, {name: meant})
            elif name in section.separators:
                meant = written.said_otherwise(pl.col(name), {}, section.separators[name])
                rows = read_each(rows, {name: meant})
            if spec.dtype in (pl.Float64, pl.Int64):
                rows, own = self._number(rows, spec)
                faults.append(own)
            elif written.is_dated(spec):
                rows = self._dated(rows, spec)
        return rows, pl.concat(faults)

    def _number(self, rows: pl.DataFrame, spec: ColumnSpec) -> tuple[pl.DataFrame, pl.DataFrame]:
        section, name = self.section, spec.name
        given_unit = section.units.get(name)
        unit = unit_meant(given_unit, spec.unit, name) if given_unit else None
        if not section.decimal_comma and section.thousands_mark != ",":
            self._refuse_commas(rows, name)
        if unit is None and not section.decimal_comma and section.thousands_mark is None:
            return rows, pl.DataFrame(schema=ROW_FAULTS)
        text = pl.col(name)
        bare = text
        if unit is not None and (own := spellings(unit, spec.unit, name)):
            bare = written.without_unit(text, own)
        plain = written.plain_number(bare, section)
        value = plain
        if unit is not None:
            number = plain.cast(pl.Float64, strict=False)
            made = converted(text, number, spec.unit, unit, pl.col("_barometer"))
            value = as_text(pl.when(made.is_finite()).then(made), spec.resolution)
        rows = rows.with_columns(_value=value)
        odd = rows.filter(text.is_not_null() & pl.col("_value").is_null())
        faults = odd.select(LINE, PART, column_name=pl.lit(name), kind=pl.lit("other_form"))
        kept = pl.when(pl.col("_value").is_null()).then(text).otherwise("_value")
        return rows.with_columns(kept.alias(name)).drop("_value"), faults

    def _refuse_commas(self, rows: pl.DataFrame, name: str) -> None:
        given = rows[name].drop_nulls()
        has_comma = pl.col(name).str.contains(written.COMMA_NUMBER)
        with_comma = distinct(given).read(has_comma)
        if given.len() and with_comma.mean() > LEAST_SHARE:  # type: ignore[operator]
            line = rows.filter(has_comma)[LINE][0]
            raise refused(
                self.shown,
                f"column '{name}' holds numbers with a comma, which can mean two things"
                f" (line {line})",
                "Export them with decimal points, or"
                f" {mapping_line(self.shown, self.options, 'decimal_comma = true')}"
                ' (or thousands_mark = ",")',
                expected="digits with a decimal point",
                ways=_comma_ways(given),
            )

    def _dated(self, rows: pl.DataFrame, spec: ColumnSpec) -> pl.DataFrame:
        name, order = spec.name, self.section.date_order
        serials = self.section.serial_dates
        if serials is not None:
            rows = rows.with_columns(written.serial_text(pl.col(name), serials).alias(name))
        given = rows.select(LINE, pl.col(name).alias("text")).drop_nulls()
        if serials is None:
            self._refuse_serials(given, name)
        if order is None:
            self._refuse_order(given, name)
            return read_each(rows, {name: written.clock_text(pl.col(name))})
        against = given.filter(read_once(given, "text", written.contradicts(pl.col("text"), order)))
        if against.height:
            raise refused(
                self.shown,
                f"column '{name}' holds a date that cannot be in the order '{order}'"
                f" (line {against[LINE][0]}), but can in another",
                f"Correct the date, or date_order in {self.section.where}, line"
                f" {self.section.line_of('date_order')}.",
                found=f"{against.height} of {given.height} such dates",
                ways=_order_ways(given["text"]),
            )
        in_order = written.date_text(pl.col(name), order, self.section.century, name)
        return read_each(rows, {name: written.clock_text(in_order)})

    def _refuse_serials(self, given: pl.DataFrame, name: str) -> None:
        """Refuse day numbers: a spreadsheet counts them from 1900 or from 1904."""
        numbers = given.filter(
            read_once(given, "text", pl.col("text").str.contains(written.SERIAL_FORM))
        )
        if given.height and numbers.height > LEAST_SHARE * given.height:
            line = mapping_line(self.shown, self.options, 'serial_dates = "1900"')
            raise refused(
                self.shown,
                f"column '{name}' holds day numbers of a spreadsheet (line {numbers[LINE][0]})",
                f'Format the column as a date, or {line}  (or "1904")',
                found=f"{numbers.height} of {given.height} values",
                ways=(Way(("serial_dates",), None, ("1900", "1904")),),
            )

    def _refuse_order(self, given: pl.DataFrame, name: str) -> None:
        other = given.filter(
            read_once(given, "text", pl.col("text").str.contains(written.OTHER_DATE))
        )
        if given.height and other.height > LEAST_SHARE * given.height:
            line = mapping_line(
                self.shown, self.options, 'date_order = "dmy"  (or "mdy", or "ymd")'
            )
            raise refused(
                self.shown,
                f"column '{name}' holds dates whose order is not declared (line {other[LINE][0]})",
                f"Export dates as 2026-03-28, or {line}",
                found=written.order_evidence(other["text"]),
                ways=_order_ways(other["text"]),
            )


def _comma_ways(given: pl.Series) -> tuple[Way, ...]:
    """Return what a comma in numbers can mean, the likelier first."""
    ways = Way(("decimal_comma",), value=True), Way(("thousands_mark",), ",")
    with_comma = given.filter(given.str.contains(written.COMMA_NUMBER))
    return ways[::-1] if with_comma.str.contains(r",\d{3}$").all() else ways


def _order_ways(text: pl.Series) -> tuple[Way, ...]:
    """Return the orders of day and month that no date contradicts."""
    fits = written.orders_that_fit(text)
    return (Way(("date_order",), None, fits),) if fits else ()
