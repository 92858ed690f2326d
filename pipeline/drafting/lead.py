"""From samples to a mapping: place the columns, settle the values, ask the rest."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pipeline.drafting.columns import Column, Places, best, columns_in, pattern_of, placed
from pipeline.drafting.draft import Draft, Question, without_questions
from pipeline.drafting.sample import Sample
from pipeline.drafting.values import settle_values
from pipeline.intake.headers import side_of, unit_of
from pipeline.intake.mapping import SIDES, Section, parse_mapping
from pipeline.intake.names import EXPORT_TABLES, table_of
from schemas.exports.catalogue import ColumnSpec

LOG, SESSIONS, CLOSE = "chamber_runs", "sessions", 0.6
WINDOW = 15
Tables = Mapping[str, Sequence[ColumnSpec]]


@dataclass(frozen=True)
class Understood:
    """One sample as the draft understands it."""

    sample: Sample
    section: str
    places: Places


def draft_mapping(
    samples: Sequence[Sample],
    tables: Tables,
    text: str,
    where: str,
    chambers: Sequence[str],
    chosen: Mapping[str, str],
) -> tuple[Draft, list[Understood]]:
    """Draft a mapping from samples; what a mapping says already is kept and counts as settled.

    Args:
        samples: sample files of one site.
        tables: columns by table.
        text: the mapping that is there, empty where there is none.
        where: its name for messages.
        chambers: chambers listed at the site.
        chosen: table by shown name, where a person has told it.

    Raises:
        MappingError: where the mapping that is there cannot be read.
    """
    draft = Draft(without_questions(text))
    known = parse_mapping(draft.text, where, EXPORT_TABLES)
    found = []
    for sample in samples:
        section = known.section_of(sample.path.name, EXPORT_TABLES)
        is_there = section is not None and section in known.sections
        columns = columns_in(sample)
        places = _places(columns, tables, section if is_there else None, sample, chosen)
        name = section.name if section is not None and is_there else _section_name(draft, places)
        _form(sample, name, places.table, draft, section if is_there else None)
        _place(places, tables[places.table], name, draft, section if is_there else None)
        settle_values(
            columns, places, tables[places.table], name, draft, section if is_there else None
        )
        found.append(Understood(sample, name, places))
    for one in found:
        if one.places.table == LOG:
            own = next((s for s in known.sections if s.name == one.section), None)
            _log(one, found, draft, own, chambers)
    return draft, found


def _places(
    columns: Sequence[Column], tables: Tables, known: Section | None, sample: Sample,
    chosen: Mapping[str, str],
) -> Places:  # fmt: skip
    """Return the table and the places of its columns; a mapping's own places hold."""
    named = chosen.get(sample.shown) or (table_of(sample.path.name, EXPORT_TABLES))
    if known is None and named is None:
        return best(columns, tables)[0]
    table = known.table if known else str(named)
    if known is None:
        return placed(columns, table, tables[table])
    settled = {h for p in (known.columns, known.left, known.right) for o in p.values() for h in o}
    made = placed([c for c in columns if c.header not in settled], table, tables[table])
    for name in ("whole", "left", "right"):
        own = getattr(known, "columns" if name == "whole" else name)
        place = getattr(made, name)
        for column in list(place):
            if any(column in p for p in (known.columns, known.left, known.right)):
                del place[column]
        place |= {column: list(headers) for column, headers in own.items()}
    made.unsure = {c: v for c, v in made.unsure.items() if c not in known.columns}
    return made


def _section_name(draft: Draft, places: Places) -> str:
    """Return the table's name, or one with a number where a section of that name is there."""
    name, number = places.table, 2
    while f"[{name}]" in draft.text or f"[{name}." in draft.text:
        name, number = f"{places.table}-{number}", number + 1
    return name


def _form(sample: Sample, name: str, table: str, draft: Draft, known: Section | None) -> None:
    if name != table and known is None:
        draft.say((name, "table"), table, "a second kind of file of this table")
    if table_of(sample.path.name, EXPORT_TABLES) != table and not (known and known.files):
        pattern = pattern_of(sample.path.name)
        draft.say((name, "files"), [pattern], "files named like the sample")
    said = known.options if known else None
    for told in sample.told:
        held = getattr(said, told.path[0], None) if said else None
        if held in (None, 0) or (told.path[0] == "header_rows" and held == 1):
            draft.say((name, *told.path), told.value, told.evidence)


def _place(
    places: Places, specs: Sequence[ColumnSpec], name: str, draft: Draft, known: Section | None
) -> None:
    """Write down where columns are read from; what is unsure, or needed and missing, is asked."""
    settled = {*known.columns, *known.left, *known.right, *known.constants} if known else set()
    for key, place in (("columns", places.whole), ("left", places.left), ("right", places.right)):
        for column, own in place.items():
            if column in settled:
                continue
            value = own[0] if len(own) == 1 else list(own)
            if column in places.unsure:
                text = f"is {column} read from {', '.join(own)}?"
                draft.ask(Question((name, key, column), text, (value,), default=value))
            elif own != [column]:
                draft.say((name, key, column), value, "by its name and its values")
    for spec in specs:
        if spec.required and spec.name != "site_id" and spec.name not in settled:
            _missing(places, spec, name, draft)


def _missing(places: Places, spec: ColumnSpec, name: str, draft: Draft) -> None:
    """Ask which column holds what is needed, for each side apart where a row has two."""
    if spec.name in places.whole:
        return
    text = f"{spec.name} is needed ({spec.description[:-1].lower()}). Which column holds it"
    free = {
        side: tuple(h for h in places.dropped if side_of(unit_of(h)[0])[1] == side)
        for side in SIDES
    }
    if not (places.left and all(free[s] or spec.name in getattr(places, s) for s in SIDES)):
        if spec.name not in places.columns:
            choices = tuple(places.dropped)
            draft.ask(Question((name, "columns", spec.name), f"{text}?", choices))
        return
    for side in SIDES:
        if spec.name not in getattr(places, side):
            draft.ask(Question((name, side, spec.name), f"{text} for the {side} aid?", free[side]))


def _names_sessions(log: Understood, found: Sequence[Understood]) -> bool:
    """Tell whether a log names sessions, and those of the records where there are samples."""
    records = [one for one in found if one.places.table == SESSIONS]
    own = _ids(log)
    return bool(own) and (not records or any(own & _ids(one) for one in records))


def _ids(one: Understood) -> set[str]:
    headers = [h for h in one.places.headers("session_id") if h in one.sample.header]
    return {value for header in headers for value in one.sample.cells(header)}


def _log(
    log: Understood, found: Sequence[Understood], draft: Draft, known: Section | None,
    chambers: Sequence[str],
) -> None:  # fmt: skip
    """Ask how a chamber's log is joined to the records, and of which chamber it is."""
    places, name = log.places, log.section
    if not _names_sessions(log, found) and not (known and known.match_window_minutes):
        text = (
            "the log names no session of the records: those that start how many minutes"
            " around a run are its?"
        )
        draft.ask(Question((name, "match_window_minutes"), text, (5, 10, WINDOW, 30),
                           default=WINDOW))  # fmt: skip
    has_chamber = "dryer_id" in places.columns or (known and "dryer_id" in known.constants)
    if not has_chamber and len(chambers) > 1:
        text = "the log names no chamber, and the site has several: which one is it of?"
        draft.ask(Question((name, "constants", "dryer_id"), text, tuple(chambers)))
