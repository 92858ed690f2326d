"""What a measure is: queries that count, and a pure function that infers from the counts."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

import polars as pl

from pipeline.errors import RegistryError
from pipeline.settings import Settings
from schemas.declare import Table

Counts = Mapping[str, pl.DataFrame]


@dataclass(frozen=True)
class Measure:
    """One measure of the warehouse.

    Attributes:
        name: the measure and its table.
        schema: the table's declaration.
        queries: SQL resources of any room without their ending, each one SELECT.
        infer: counts by query name, and settings, to the table; pure.
        needs: measures that must have run before.
        views: SQL resources, each one SELECT, made into temporary views of their names before
            the queries run.
        temporary: SQL resources, each one SELECT, made into temporary tables of their names
            before the queries run.
        fills: SQL resources, each one UPDATE, run once the table is written: columns of facts
            that follow from it.
    """

    name: str
    schema: type[Table]
    queries: tuple[str, ...]
    infer: Callable[[dict[str, pl.DataFrame], Settings], pl.DataFrame]
    needs: tuple[str, ...] = ()
    views: tuple[str, ...] = ()
    temporary: tuple[str, ...] = ()
    fills: tuple[str, ...] = ()


def check_words(where: str, known: Iterable[str], words: Iterable[str]) -> None:
    """Refuse a list of words that lacks one of the contract's, or has one too many.

    Raises:
        RegistryError: naming the words; a word that no list knows would vanish from its figures.
    """
    missing, unknown = set(words) - set(known), set(known) - set(words)
    if missing or unknown:
        raise RegistryError(
            f"{where} does not hold the contract's words",
            found=", ".join(sorted(unknown)) or "too few",
            expected=", ".join(words),
            done="Nothing was counted.",
            todo="Decide what the word means there, and add it.",
        )


def texts_in(folder: Traversable) -> dict[str, str]:
    """Return the SQL resources of a folder's rooms by name.

    Raises:
        RegistryError: where two rooms hold one name.
    """
    texts: dict[str, str] = {}
    rooms = (room for room in folder.iterdir() if room.is_dir())
    for file in (file for room in rooms for file in room.iterdir() if file.name.endswith(".sql")):
        name = file.name.removesuffix(".sql")
        if name in texts:
            raise RegistryError(
                f"two queries of the measures are called {name}",
                done="Nothing was counted.",
                todo="Rename one; a query is read by its name alone.",
            )
        texts[name] = file.read_text(encoding="utf-8")
    return texts


@cache
def _texts() -> dict[str, str]:
    return texts_in(files("pipeline.measures"))


def query_text(query: str) -> str:
    """Return the text of one SQL resource, whichever room it lies in."""
    return _texts()[query]


def no_rows(schema: type[Table]) -> pl.DataFrame:
    """Return the declared table without a row."""
    return pl.DataFrame(
        schema={name: spec.dtype.type for name, spec in schema.to_schema().columns.items()}
    )


def as_table(frame: pl.DataFrame, schema: type[Table]) -> pl.DataFrame:
    """Return the frame with the declared columns and types, NaN as null, sorted by its key.

    Raises:
        pandera.errors.SchemaError: where a value breaks the declaration.
    """
    declared = schema.to_schema()
    types = {name: spec.dtype.type for name, spec in declared.columns.items()}
    shaped = frame.select(
        pl.col(name).cast(type_).fill_nan(None)
        if type_ in {pl.Float64, pl.Float32}
        else pl.col(name).cast(type_)
        for name, type_ in types.items()
    )
    key = list((schema.Config.metadata or {})["key"])
    ordered = shaped.sort(key, nulls_last=False)
    return schema.validate(ordered)
