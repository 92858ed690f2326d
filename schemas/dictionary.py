"""The data dictionary in three renderings: DATA_DICTIONARY.md, rows for a page, SQL comments.

All come from the table classes, which are found by walking their packages, so that a new table
is in the dictionary without being listed here.

    python -m schemas.dictionary            write DATA_DICTIONARY.md and digests.py
    python -m schemas.dictionary --check    fail where one of them is stale
"""

import importlib
import inspect
import pkgutil
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

from schemas import contract, glossary
from schemas.declare import Table
from schemas.exports.catalogue import ColumnSpec, columns_of, key_of, rules_of
from schemas.glossary import LISTS
from schemas.macros import MACROS
from schemas.version import READING
from schemas.written import write_or_check

FILE = Path(__file__).parents[1] / "DATA_DICTIONARY.md"
DIGESTS = Path(__file__).with_name("digests.py")
EXPORTS = "exports"
PARTS = {
    EXPORTS: (
        "Exports",
        "What a clinic hands in: one table a file, CSV or Parquet, named by its table and a"
        " date. Times are ISO 8601, local to the clinic unless an offset is given. A bad or"
        " missing value in a required column refuses its row; any other bad value is refused"
        " alone and the row stays.",
    ),
    "facts": (
        "Facts",
        "What the warehouse holds of the accepted rows, with all that is derived from them.",
    ),
    "measures": (
        "Measures",
        "What the pages show. Shares are 0-1; null where undefined, never 0.",
    ),
    "audit": ("Audit", "Where every row, value, file and run can be traced."),
}
SQL_TYPES = {
    "String": "VARCHAR",
    "Int64": "BIGINT",
    "Float64": "DOUBLE",
    "Boolean": "BOOLEAN",
    "Date": "DATE",
    "Datetime(time_unit='us', time_zone='UTC')": "TIMESTAMPTZ",
    "List(String)": "VARCHAR[]",
}
EXPORT_TYPES = {
    "String": "text",
    "Int64": "whole number",
    "Float64": "number",
    "Boolean": "true or false",
    "Date": "date",
    "Datetime(time_unit='us', time_zone='UTC')": "date and time",
    "List(String)": "words joined by ;",
}


def tables(part: str) -> list[type[Table]]:
    """Return the tables declared in one part ("exports", "facts", "measures", "audit"), by name."""
    package = importlib.import_module(f"schemas.{part}")
    found = [
        member
        for module in pkgutil.iter_modules(package.__path__, f"{package.__name__}.")
        for member in vars(importlib.import_module(module.name)).values()
        if inspect.isclass(member)
        and issubclass(member, Table)
        and member.__module__ == module.name
        and key_of(member)
    ]
    return sorted(found, key=lambda model: model.Config.name)


def grain(model: type[Table]) -> str:
    """Return what one row of a table is, and its key."""
    return " ".join((model.__doc__ or "").split())


def meaning(spec: ColumnSpec) -> str:
    """Return a column's description with the words it allows and whether it is hidden."""
    said = [spec.description]
    if spec.vocabulary is not None:
        said.append(f"{'Any' if spec.several else 'One'} of: {', '.join(spec.vocabulary)}.")
    if spec.hashed is not None:
        said.append("Kept only as a keyed hash.")
    return " ".join(said)


def type_of(spec: ColumnSpec, part: str) -> str:
    """Return a column's type: in words for an export, as in SQL for the warehouse."""
    return (EXPORT_TYPES if part == EXPORTS else SQL_TYPES)[str(spec.dtype)]


def range_of(spec: ColumnSpec) -> str:
    """Return a column's plausible range in words, or nothing."""
    low, high = spec.ge, spec.le
    if low is not None and high is not None:
        return f"{low:.15g} to {high:.15g}".replace("-", "−")
    bounds = (("above", spec.gt), ("from", low), ("up to", high))
    return ", ".join(f"{word} {bound:.15g}" for word, bound in bounds if bound is not None)


def rows(*parts: str) -> list[dict[str, str | None]]:
    """Return one record per column of the named parts, or of all.

    Returns:
        part, table_name, grain, column_name, type, unit (null for words and dates),
        description.
    """
    return [
        {
            "part": part,
            "table_name": model.Config.name,
            "grain": grain(model),
            "column_name": spec.name,
            "type": type_of(spec, part),
            "unit": spec.unit,
            "description": meaning(spec),
        }
        for part in parts or PARTS
        for model in tables(part)
        for spec in columns_of(model)
    ]


def comments(model: type[Table]) -> list[str]:
    """Return the statements that write a table's grain and columns as comments in DuckDB."""
    name = _quoted(model.Config.name, '"')
    said = [f"COMMENT ON TABLE {name} IS {_quoted(grain(model))}"]
    for spec in columns_of(model):
        told = meaning(spec) + (f" [{spec.unit}]" if spec.unit else "")
        column = _quoted(spec.name, '"')
        said.append(f"COMMENT ON COLUMN {name}.{column} IS {_quoted(told)}")
    return said


def markdown() -> str:
    """Return the text of DATA_DICTIONARY.md."""
    lines = [
        "# Data dictionary",
        "",
        f"Contract version {READING}.{contract.digest()}. Written by `python -m schemas.dictionary`"
        " from the table classes in `schemas/`; not edited by hand.",
        "",
    ]
    lines += [f"- [{PARTS[part][0]}](#{part}): {_links(part)}" for part in PARTS]
    lines += ["- [Words](#words)", "- [Macros](#macros)", ""]
    for part, (title, told) in PARTS.items():
        lines += [f"## {title}", "", told, ""]
        for model in tables(part):
            lines += _section(model, part)
    lines += ["## Words", "", "What each word of a list means. Pages show its label.", ""]
    lines += _table(
        ("list", "word", "label", "meaning"),
        (
            (f"`{name}`", f"`{word}`", said.label, said.sentence)
            for name, words in LISTS.items()
            for word, said in words.meanings.items()
        ),
    )
    lines += ["## Macros", "", "What every warehouse offers beside its tables, in SQL.", ""]
    lines += _table(
        ("macro", "gives", "example"),
        ((f"`{macro.signature}`", macro.description, f"`{macro.example}`") for macro in MACROS),
    )
    return "\n".join(lines)


def _links(part: str) -> str:
    return ", ".join(f"[{m.Config.name}](#{m.Config.name})" for m in tables(part))


def _section(model: type[Table], part: str) -> Iterator[str]:
    yield from (f"### {model.Config.name}", "", grain(model), "")
    if part == EXPORTS:
        heads: tuple[str, ...] = ("column", "required", "type", "unit", "range", "meaning")
    else:
        heads = ("column", "type", "unit", "meaning")
    cells = (
        {
            "column": f"`{spec.name}`",
            "required": "yes" if spec.required else "",
            "type": type_of(spec, part),
            "unit": spec.unit or "",
            "range": range_of(spec),
            "meaning": meaning(spec),
        }
        for spec in columns_of(model)
    )
    yield from _table(heads, ([row[head] for head in heads] for row in cells))
    rules = rules_of(model)
    if rules:
        yield from ("Rules over several columns:", "")
    for rule in rules:
        named = ", ".join(f"`{name}`" for name in rule.refuses) or "the row"
        cost = f", refuses {named}" if part == EXPORTS else ""
        yield f"- {rule.sentence} (`{rule.code}`{cost}): {rule.advice}."
    if rules:
        yield ""


def _table(heads: Sequence[str], body: Iterator[Sequence[str]]) -> Iterator[str]:
    yield f"| {' | '.join(heads)} |"
    yield "|" + "---|" * len(heads)
    for cells in body:
        yield f"| {' | '.join(cell.replace('|', chr(92) + '|') for cell in cells)} |"
    yield ""


def _quoted(text: str, mark: str = "'") -> str:
    return mark + text.replace(mark, 2 * mark) + mark


def digests() -> str:
    """Return the text of digests.py: hashes that a start reads without the tables themselves."""
    return (
        '"""Hashes of what is declared; written by `python -m schemas.dictionary`."""\n\n'
        f'CONTRACT = "{contract.digest()}"\nWORDS = "{glossary.digest()}"\n'
    )


def main(argv: Sequence[str] | None = None) -> int:
    """Write the files, or with --check compare them; returns 1 where one is stale."""
    return max(
        write_or_check(text, file, module="schemas.dictionary", about=__doc__, argv=argv)
        for text, file in ((markdown(), FILE), (digests(), DIGESTS))
    )


if __name__ == "__main__":
    sys.exit(main())
