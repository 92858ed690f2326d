"""What the values of placed columns settle or leave open: words, dates, marks, units."""

import datetime as dt
from collections.abc import Sequence

import polars as pl

from pipeline.checking.shown import looks_personal
from pipeline.checking.word_advice import nearest
from pipeline.drafting.columns import TIME, Column, Places, is_plain
from pipeline.drafting.draft import Draft, Question
from pipeline.intake import written
from pipeline.intake.headers import SIDE_WORDS, plain
from pipeline.intake.mapping import BOTH, Section
from pipeline.intake.unit_names import pressure_alone, unit_meant
from pipeline.intake.units import LINEAR, plain_unit, units_for
from schemas import vocabulary
from schemas.exports.catalogue import ColumnSpec
from schemas.exports.plausible import PLAUSIBLE_MEDIAN
from schemas.meaning import some_of

MOST_WORDS = 40
BOTH_WORDS = ("both", "beide", "beidseitig", "bds", "les deux", "ambos", "entrambi", "b", "l+r")
PLAIN_NUMBER = r"^[+-]?(?:\d[\d.,' ]*)$"
WITH_UNIT = r"^[+-]?\d[\d.,]*\s*([^\d\s.,<>]{1,8})\.?$"
DASHES = ("-", "--", "—", "n/a", "na", "k.a.", "k. a.", "?", "x", "none", "null")
ASKED = vocabulary.CONDITION + vocabulary.DEVICE_STYLE + vocabulary.ENDED_BY
SUGGESTED = some_of("SUGGESTED", ASKED, {
    "normal": ("ok", "okay", "in ordnung", "i.o.", "io", "gut", "good", "works", "working",
               "fine", "funktioniert", "bon", "bien", "buono", "goed", "fonctionne"),
    "dead": ("dead", "tot", "defekt", "no sound", "kein ton", "stumm", "mort", "muet", "muerto",
             "morto", "dood", "aus", "ohne funktion", "out"),
    "weak": ("weak", "schwach", "leise", "faible", "debil", "debole", "zwak", "low", "quiet"),
    "other_fault": ("distorted", "noisy", "intermittent", "verzerrt", "rauscht", "kratzt",
                    "wackelkontakt", "aussetzer", "gestoert", "grésille", "fault", "stoerung"),
    "ric": ("ex-hoerer", "ex hoerer", "ric/rite", "rite", "ex-hörer"),
    "bte": ("hdo", "hinterohr", "contour", "retroauricular", "behind the ear"),
    "ite": ("ido", "in the ear", "intra", "intraauricular"),
    "itc": ("gehoergang", "in the canal", "kanal"),
    "cic": ("tief", "completely in canal"),
    "dry": ("trocken", "sec", "seco", "asciutto"),
    "time_limit": ("time", "zeit", "zeitende", "timeout", "temps"),
    "stopped": ("abgebrochen", "abbruch", "cancelled", "aborted", "stop", "stopp"),
    "fault": ("fehler", "error", "erreur"),
})  # fmt: skip


def settle_values(
    sample_columns: Sequence[Column], places: Places, specs: Sequence[ColumnSpec],
    section: str, draft: Draft, known: Section | None,
) -> None:  # fmt: skip
    """Settle or ask what the values of one sample's placed columns mean."""
    by_header = {column.header: column for column in sample_columns}
    dates: list[pl.Series] = []
    numbers: list[pl.Series] = []
    for spec in specs:
        own = [by_header[h] for h in places.headers(spec.name) if h in by_header]
        if not own or spec.hashed is not None:
            continue
        cells = pl.concat([column.cells for column in own])
        if spec.vocabulary is not None:
            _words(cells, spec, section, draft, known, has_sides=bool(places.left))
        elif written.is_dated(spec):
            dates += [column.cells for column in own]
        elif spec.dtype in (pl.Float64, pl.Int64):
            numbers.append(cells)
            _texts(cells, spec, section, draft, known)
            _unit(own, cells, spec, places, section, draft, known)
    _dates(dates, section, draft, known)
    _commas(numbers, section, draft, known)


def _words(
    cells: pl.Series, spec: ColumnSpec, section: str, draft: Draft, known: Section | None,
    *, has_sides: bool,
) -> None:  # fmt: skip
    allowed = tuple(spec.vocabulary or ())
    if spec.name == "ear" and has_sides:
        allowed = (*allowed, BOTH)
    said = dict(known.values.get(spec.name, {})) if known else {}
    lower = cells.str.to_lowercase().str.strip_chars()
    empty = set(known.empty_words) if known else set()
    for word, count in lower.value_counts(sort=True).rows()[:MOST_WORDS]:
        if word in allowed or word in said or word in empty or (spec.several and ";" in word):
            continue
        if looks_personal(next(c for c in cells if c.strip().lower() == word)):
            continue  # told by the check as something that leaves the export
        path = (section, "values", spec.name, word)
        same = word.replace(" ", "_").replace("-", "_")
        side = next((s for s, spelled in SIDE_WORDS.items() if word in spelled), None)
        if same in allowed:
            draft.say(path, same, f"{count} times, the same word")
        elif spec.name == "ear" and side and len(word) > 1:
            draft.say(path, side, f"{count} times")
        elif spec.name == "ear" and word in BOTH_WORDS and BOTH in allowed and len(word) > 1:
            draft.say(path, BOTH, f"{count} times")
        else:
            meant = next(
                (
                    w
                    for w, own in SUGGESTED.items()
                    if w in allowed and plain(word) in map(plain, own)
                ),
                side if spec.name == "ear" else nearest(word, allowed),
            )
            text = f"what does {word!r} stand for, {count} times in {spec.name}?"
            draft.ask(Question(path, text, allowed, default=meant))


def _texts(
    cells: pl.Series, spec: ColumnSpec, section: str, draft: Draft, known: Section | None
) -> None:
    """Ask what texts in place of a number mean."""
    odd = cells.filter(~cells.str.contains(PLAIN_NUMBER) & ~cells.str.contains(WITH_UNIT))
    said = {*(known.below_detection if known else ()), *(known.empty_words if known else ())}
    for word, count in odd.str.to_lowercase().value_counts(sort=True).rows()[:6]:
        if word in said or len(word) > 12 or looks_personal(word):
            continue
        if word in DASHES:
            draft.say((section, "empty_words"), [word], f"{count} times in place of {spec.name}")
        elif spec.name == "moisture_ul":
            text = f"{count} readings say {word!r}: is it below detection?"
            draft.ask(Question((section, "below_detection"), text, ([word],), default=[word]))


def _unit(
    own: Sequence[Column], cells: pl.Series, spec: ColumnSpec, places: Places, section: str,
    draft: Draft, known: Section | None,
) -> None:  # fmt: skip
    units = units_for(spec.unit, spec.name)
    if not units or (known and spec.name in known.units):
        return
    first = own[0]
    if is_plain(first.header, spec.name):
        return  # the contract's own name carries the contract's unit
    in_cells = cells.str.extract(WITH_UNIT, 1).drop_nulls().unique().to_list()
    names = [first.unit, *(in_cells if len(in_cells) == 1 else []), *plain(first.header).split()]
    meant = next(
        (unit for name in names if len(name) > 1 or name == first.unit
         if name and (unit := unit_meant(name, spec.unit, spec.name))), None,
    )  # fmt: skip
    path = (section, "units", spec.name)
    possible = tuple(unit for unit in units if _is_possible(cells, unit, spec, places.table))
    if meant is not None and (meant in possible or not possible):
        draft.say(path, meant, f'told by "{first.unit or first.header}"')
        return
    bare = next((b for name in names if name and (b := pressure_alone(name))), None)
    if bare:
        possible = tuple(u for u in possible if u.startswith(f"{bare} ")) or possible
    also = tuple(
        ((section, place, spec.name), headers[0] if len(headers) == 1 else headers)
        for place, headers in (("columns", places.whole.get(spec.name)),
                               ("left", places.left.get(spec.name)),
                               ("right", places.right.get(spec.name)))
        if headers and draft.unsay((section, place, spec.name))
    )  # fmt: skip
    middle = _median(cells)
    shown = f" (its middle value is {middle:g})" if middle is not None else ""
    text = f"in which unit is it written{shown}?"
    draft.ask(Question(path, text, possible or tuple(units), also=also))


def _median(cells: pl.Series) -> float | None:
    plain_cells = cells.str.extract(r"([+-]?\d+(?:[.,]\d+)?)", 1).str.replace(",", ".")
    value = plain_cells.cast(pl.Float64, strict=False).median()
    return float(value) if isinstance(value, int | float) else None


def _is_possible(cells: pl.Series, unit: str, spec: ColumnSpec, table: str) -> bool:
    """Tell whether the middle value can be, written in a unit."""
    middle = _median(cells)
    name, _, reference = unit.partition(" ")
    linear = LINEAR.get(plain_unit(spec.unit), {}).get(name)
    if middle is None or linear is None:
        return linear is None and bool(cells.str.contains(":").any())
    if bool(cells.str.contains(r"^\d+:\d").all()):
        return False
    add, times, over = linear
    value = (middle + add) * times / over
    if reference == "gauge":
        value += 101.3
    elif reference == "vacuum":
        value = 101.3 - value
    low, high, _ = PLAUSIBLE_MEDIAN.get(table, {}).get(spec.name, (None, None, ""))
    low = low if low is not None else spec.ge if spec.ge is not None else spec.gt
    high = high if high is not None else spec.le
    return (low is None or value >= low) and (high is None or value <= high)


def _dates(dates: Sequence[pl.Series], section: str, draft: Draft, known: Section | None) -> None:
    cells = pl.concat(dates) if dates else pl.Series(dtype=pl.String)
    other = cells.filter(cells.str.contains(written.OTHER_DATE))
    if other.len() and not (known and known.date_order):
        against = {
            order: int(pl.select(written.contradicts(pl.lit(other), order)).to_series().sum())
            for order in ("dmy", "mdy")
        }
        fits = tuple(order for order, n in against.items() if n == 0)
        evidence = written.order_evidence(other)
        if len(fits) == 1:
            draft.say((section, "date_order"), fits[0], evidence)
        else:
            text = f"is the day first or the month? {evidence};"
            draft.ask(Question((section, "date_order"), text, ("dmy", "mdy")))
    short = other.str.contains(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2}(?:\D|$)").any()
    if short and not (known and known.century is not None):
        draft.ask(Question((section, "century"), "years have two digits: of which century?",
                               (2000, 1900), default=2000))  # fmt: skip
    serial = cells.filter(cells.str.contains(written.SERIAL))
    parts = int(cells.str.contains(TIME).sum())
    if serial.len() > 0.8 * max(cells.len() - parts, 1):
        _serials(serial, section, draft, known)


def _serials(serial: pl.Series, section: str, draft: Draft, known: Section | None) -> None:
    if known and known.serial_dates:
        return
    last = int(float(str(serial.cast(pl.Float64).max())))
    days = {s: dt.date.fromisoformat(e) + dt.timedelta(last) for s, e in written.EPOCHS.items()}
    past = tuple(s for s, day in days.items() if day <= dt.datetime.now(dt.UTC).date())
    if len(past) == 1:
        told = f"{serial.len()} day numbers, the last is {days[past[0]]}; else in the future"
        draft.say((section, "serial_dates"), past[0], told)
    else:
        shown = "; ".join(f"from {s} the last is {day}" for s, day in days.items())
        text = f"{serial.len()} day numbers of a spreadsheet: {shown}. From when do they count?"
        draft.ask(Question((section, "serial_dates"), text, ("1900", "1904"), default="1900"))


def _commas(
    numbers: Sequence[pl.Series], section: str, draft: Draft, known: Section | None
) -> None:
    cells = pl.concat(numbers) if numbers else pl.Series(dtype=pl.String)
    bare = cells.str.extract(r"^([+-]?[\d.,]*\d)", 1).drop_nulls()
    comma = bare.filter(bare.str.contains(written.COMMA_NUMBER))
    if not comma.len() or (known and (known.decimal_comma or known.thousands_mark)):
        return
    evidence = f"{comma.len()} of {cells.len()} numbers have a comma"
    if not bare.str.contains(".", literal=True).any() and not bool(
        comma.str.contains(r"^[+-]?[1-9]\d{0,2},\d{3}$").all()
    ):
        draft.say((section, "decimal_comma"), True, evidence)
    else:
        text = f"{evidence}: is it the decimal mark? (If it marks thousands, answer false.)"
        draft.ask(Question((section, "decimal_comma"), text, (True, False)))
