"""Draft a site's mapping from a sample of its export: proposals with evidence, doubts as comments.

What the sample does not settle stays a comment with a question; units always do. Shown are names
of columns, words of columns that the contract gives words for, and counts; never other values.
"""

import difflib
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import polars as pl

from pipeline.intake import written
from pipeline.intake.mapping import Section
from pipeline.intake.names import safe_header
from pipeline.intake.options import ReadOptions
from pipeline.intake.read import read_raw
from pipeline.intake.table import CANDIDATES, RawTable
from pipeline.intake.units import units_for
from schemas.exports.catalogue import ColumnSpec

ALIKE, LIKELY = 0.55, 0.85
MOST_WORDS, LONGEST_WORD = 30, 24
LOOKED_AT = 40
NAMES = {"\t": "tab"}
PLAIN_WORD = re.compile(r"[^\W\d_][^\d@]*|[?-]")
NUMBER = r"^[+-]?\d[\d.,' ]*$"
SHORT = 8
PERSONAL = re.compile(r"@|\d{4}|^[A-ZÄÖÜ]\w+(?: [A-ZÄÖÜ]\w+)+$")


@dataclass
class Draft:
    """Lines of a mapping by section, and how many of them are doubts."""

    table: str
    rows: int
    sections: dict[str, list[str]] = field(default_factory=dict)
    proposals: int = 0
    doubts: int = 0

    def propose(self, section: str, line: str, evidence: str) -> None:
        """Add a line that the sample settles."""
        self.proposals += 1
        self.sections.setdefault(section, []).append(f"{line}  # {evidence}")

    def doubt(self, section: str, line: str, question: str) -> None:
        """Add a line to be settled by a person, as a comment."""
        self.doubts += 1
        self.sections.setdefault(section, []).append(f"# {line}  # {question}")

    def text(self) -> str:
        """Return the draft as the text of a mapping."""
        told = [
            f"# Drafted from a sample of {self.rows} rows. Lines that start with # are doubts:",
            "# settle each, take its # away or delete the line. Units are never guessed.",
        ]
        for name, lines in self.sections.items():
            told += ["", f"[{name}]", *lines]
        return "\n".join(told) + "\n"


def quoted(text: str) -> str:
    """Return a text as TOML writes it."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    plain = "".join(f"\\u{ord(c):04x}" if ord(c) < 32 or ord(c) == 127 else c for c in escaped)
    return f'"{plain}"'


def form_of(data: bytes) -> tuple[ReadOptions, list[tuple[str, str]]]:
    """Return how delimited text is to be read, and the mapping's lines with their evidence."""
    told: list[tuple[str, str]] = []
    encoding = None
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encoding = "utf-16"
        told.append(('encoding = "utf-16"', "the file starts with its mark"))
    else:
        try:
            data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            encoding = "cp1252"
            number = data.count(b"\n", 0, error.start) + 1
            told.append(('encoding = "cp1252"', f"no UTF-8 in line {number}; check the accents"))
    lines = data.decode(encoding or "utf-8-sig", "replace").splitlines()[:LOOKED_AT]
    counts = {mark: [_fields(line, mark) for line in lines if line.strip()] for mark in CANDIDATES}
    usual = {mark: max(set(n), key=n.count) if n else 0 for mark, n in counts.items()}
    steady = {m: usual[m] * counts[m].count(usual[m]) for m in CANDIDATES if usual[m] > 1}
    mark = max(steady, key=lambda m: steady[m]) if steady else ","
    skip = next((at for at, line in enumerate(lines) if _fields(line, mark) == usual[mark]), 0)
    same = counts[mark].count(usual[mark])
    evidence = f"{usual[mark]} columns in {same} of the first {len(counts[mark])} lines"
    told.append((f"delimiter = {quoted(NAMES.get(mark, mark))}", evidence))
    if skip:
        told.append((f"skip_lines = {skip}", f"the header stands in line {skip + 1}"))
    return ReadOptions(delimiter=mark, encoding=encoding, skip_lines=skip), told


def _fields(line: str, mark: str) -> int:
    return re.sub(r'"[^"]*"', "", line).count(mark) + 1


def draft(
    data: bytes,
    shown: str,
    tables: Mapping[str, Sequence[ColumnSpec]],
    table: str | None,
    known: Section | None = None,
) -> Draft:
    """Draft the section of one file.

    Args:
        data: the sample's bytes.
        shown: its name for messages, with the ending that tells its format.
        tables: columns by table.
        table: the table its name tells, else the one whose columns fit best is proposed.
        known: what a mapping says already; its columns count as settled.

    Raises:
        FileRefusedError: where the sample cannot be read at all.
    """
    is_text = not shown.lower().endswith((".xlsx", ".parquet", ".gz"))
    options, told = form_of(data) if is_text else (ReadOptions(), [])
    raw = read_raw(data, shown, [], options)
    scores = {
        name: sum(_best(h, specs)[1] for h in raw.header) + 10 * (name == table)
        for name, specs in tables.items()
    }
    chosen = known.table if known else max(scores, key=lambda name: scores[name])
    out = Draft(chosen, raw.cells.height)
    out.sections[chosen] = []
    if table is None and known is None:
        out.doubt(chosen, 'files = ["*.csv"]', f"{chosen} fits best; name the files' pattern")
    for line, evidence in told:
        out.propose(chosen, line, evidence)
    places = _columns(raw, tables[chosen], known, out)
    _cells(raw, places, {s.name: s for s in tables[chosen]}, out)
    return out


def _best(header: str, specs: Sequence[ColumnSpec]) -> tuple[str, float]:
    plain = re.sub(r"[\W_]+", " ", header.lower()).strip()
    scores = {
        s.name: difflib.SequenceMatcher(None, plain, s.name.replace("_", " ")).ratio()
        for s in specs
    }
    name = max(scores, key=lambda n: scores[n])
    return name, scores[name]


def _columns(
    raw: RawTable, specs: Sequence[ColumnSpec], known: Section | None, out: Draft
) -> dict[str, str]:
    """Draft the names of columns; return the file's column of each that is likely."""
    section = f"{out.table}.columns"
    settled = dict(known.columns) if known else {}
    places: dict[str, str] = {}
    used: set[str] = set()
    for name, own in settled.items():
        written_names = quoted(own[0]) if len(own) == 1 else f"[{', '.join(map(quoted, own))}]"
        out.propose(section, f"{name} = {written_names}", "from the mapping that is there")
        used |= set(own)
        if own[0] in raw.header:
            places[name] = own[0]
    found = sorted(
        ((*_best(h, specs), at, h) for at, h in enumerate(raw.header) if h not in used),
        key=lambda one: -one[1],
    )
    for name, score, at, header in found:
        if PERSONAL.search(header) or len(header) > 40:
            out.doubt(section, "", f"{safe_header(header, at + 1)}: what does it hold?")
        elif score < ALIKE or name in places:
            out.doubt(section, f'"?" = {quoted(header)}', "none is alike: name it or delete this")
        elif score < LIKELY:
            places[name] = header
            out.doubt(section, f"{name} = {quoted(header)}", f"alike by {score:.2f}: is it?")
        else:
            places[name] = header
            if name != header:
                out.propose(section, f"{name} = {quoted(header)}", f"alike by {score:.2f}")
    constants = set(known.constants) if known else set()
    for spec in specs:
        if spec.required and spec.name not in {*places, *settled, *constants, "site_id"}:
            out.doubt(section, f'{spec.name} = "?"', f"needed: {spec.description}")
    return places


def _cells(
    raw: RawTable, places: dict[str, str], specs: Mapping[str, ColumnSpec], out: Draft
) -> None:
    """Draft words, dates and marks of numbers from the cells of likely columns."""
    dates, numbers = [], []
    for name, header in places.items():
        cells = raw.cells[header].str.strip_chars().drop_nulls()
        cells, spec = cells.filter(cells != ""), specs[name]
        if spec.hashed is not None:
            continue
        if spec.vocabulary is not None:
            _words(cells, spec, out)
        elif written.is_dated(spec):
            dates.append(cells)
        elif spec.dtype in (pl.Float64, pl.Int64):
            numbers.append(cells.filter(cells.str.contains(NUMBER)))
            if spec.unit and units_for(spec.unit, name):
                allowed = ", ".join(units_for(spec.unit, name))
                out.doubt(f"{out.table}.units", f'{name} = "?"', f"which? {allowed}")
            if name == "moisture_ul":
                _below(cells.filter(~cells.str.contains(NUMBER)), out)
    _dates(pl.concat(dates) if dates else pl.Series(dtype=pl.String), out)
    _commas(pl.concat(numbers) if numbers else pl.Series(dtype=pl.String), out)


def _words(cells: pl.Series, spec: ColumnSpec, out: Draft) -> None:
    allowed = spec.vocabulary or ()
    counts = cells.str.to_lowercase().value_counts(sort=True).rows()
    odd = [(word, n) for word, n in counts if word not in allowed]
    section = f"{out.table}.values.{spec.name}"
    is_plain = all(
        PLAIN_WORD.fullmatch(word) and len(word) <= LONGEST_WORD for word, _ in odd
    ) and not any(PERSONAL.search(text) for text in cells)
    if odd and (len(counts) > MOST_WORDS or not is_plain):
        out.doubt(section, "", f"{len(odd)} other texts, not shown: is it the right column?")
        return
    for word, n in odd:
        near = difflib.get_close_matches(word.replace(" ", "_"), allowed, n=1, cutoff=LIKELY)
        if near:
            out.propose(section, f'{quoted(word)} = "{near[0]}"', f"{n} times")
        else:
            out.doubt(section, f'{quoted(word)} = "?"', f"{n} times: {', '.join(allowed)}")


def _below(cells: pl.Series, out: Draft) -> None:
    words = sorted(set(cells.to_list()))
    if words and len(words) <= SHORT and all(len(word) <= SHORT for word in words):
        listed = ", ".join(quoted(word) for word in words)
        question = f"{cells.len()} readings without a number: below detection?"
        out.doubt(out.table, f"below_detection = [{listed}]", question)


def _dates(cells: pl.Series, out: Draft) -> None:
    other = cells.filter(cells.str.contains(written.OTHER_DATE))
    if not other.len():
        return
    against = {
        order: int(pl.select(written.contradicts(pl.lit(other), order)).to_series().sum())
        for order in ("dmy", "mdy")
    }
    evidence = written.order_evidence(other)
    fits = [order for order, n in against.items() if n == 0]
    if len(fits) == 1:
        out.propose(out.table, f'date_order = "{fits[0]}"', evidence)
    else:
        out.doubt(out.table, 'date_order = "?"', f"dmy or mdy? {evidence}")


def _commas(cells: pl.Series, out: Draft) -> None:
    comma = cells.filter(cells.str.contains(written.COMMA_NUMBER))
    if not comma.len():
        return
    evidence = f"{comma.len()} of {cells.len()} numbers have a comma"
    points = int(cells.str.contains(".", literal=True).sum())
    if points == 0 and not bool(comma.str.contains(r"^[+-]?[1-9]\d{0,2},\d{3}$").any()):
        out.propose(out.table, "decimal_comma = true", evidence)
    else:
        out.doubt(out.table, "decimal_comma = true", f'{evidence}; or thousands_mark = ","?')
