"""What a measure is: queries that count, and a pure function that infers from the counts."""

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable

import polars as pl

from pipeline.disclosure.rule import CountsNoPeople, Rule
from pipeline.errors import RegistryError
from pipeline.settings import Settings
from schemas.declare import Table
from schemas.exports.catalogue import columns_of

SHARED_STEP = re.compile(r"\{(\w+)\}")
STATE = re.compile(
    r"\bState: (of site|of wearer|whole, [^.]+|sums( of wearers)?(?: by ([\w, ]+))?)\.(?: |$)"
)
Counts = Mapping[str, pl.DataFrame]


# Whose quarters a headline figure takes, by the name of the set: see the table analysis_set.
ALL_ROWS: Mapping[str, str] = {}
WORKING_AIDS: Mapping[str, str] = {"measured_change": "working_aid"}


@dataclass(frozen=True)
class State:
    """How the counts of one query follow where the rows of some sites or wearers changed.

    Attributes:
        kind: "of site": each row belongs to the site it names, and is replaced with it. "sums":
            rows are groups, what is no key is a whole number or a decimal that adds over sites.
            "whole": counted again. Of an UPDATE "of wearer".
        keys: columns that tell the groups of sums apart.
        is_by_wearer: the sums add over wearers too, and what an UPDATE fills is its wearer's: each
            row that is counted or filled follows from the rows of one wearer of a site, of those
            who share its sessions and aids, and small tables. No rank, window or share over others.
    """

    kind: str
    keys: tuple[str, ...] = ()
    is_by_wearer: bool = False


@dataclass(frozen=True, kw_only=True)
class Measure:
    """One measure of the warehouse: all that the program knows of it stands here.

    Attributes:
        schema: the table's declaration; its name is the measure's.
        queries: SQL resources of any room without their ending, each one SELECT.
        infer: counts by query name, and settings, to the table; pure.
        analysis_sets: the aids of each analysis set that its headline figures take, by the set's
            name; `ALL_ROWS` where none is taken.
        disclosure: how the table may leave the group.
        method: anchor of the section of the methods page that explains it.
        label: what the pages call it.
        needs: measures that must have run before.
        group_wide: SQL resources, each one SELECT, made into small temporary tables of their names
            over all sites, in this order, before anything else: what of the whole group a row's
            count rests on. Queries and views read no other site's rows but through these.
        views: SQL resources, each one SELECT, made into temporary views of their names before
            the queries run.
        temporary: SQL resources, each one SELECT, made into temporary tables of their names
            before the queries run.
        fills: SQL resources, each one UPDATE, run once the table is written: columns of facts
            that follow from it.

    Raises:
        RegistryError: where a field is empty, a query is not there, or a table that is said to
            count no people has a column in a unit of people.
    """

    schema: type[Table]
    queries: tuple[str, ...]
    infer: Callable[[dict[str, pl.DataFrame], Settings], pl.DataFrame]
    analysis_sets: Mapping[str, str]
    disclosure: Rule
    method: str
    label: str
    needs: tuple[str, ...] = ()
    group_wide: tuple[str, ...] = ()
    views: tuple[str, ...] = ()
    temporary: tuple[str, ...] = ()
    fills: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        missing = [name for name in ("queries", "method", "label") if not getattr(self, name)]
        if not isinstance(self.disclosure, Rule):
            missing.append("disclosure")
        counted = (*self.queries, *self.group_wide)
        resources = (*counted, *self.views, *self.temporary, *self.fills)
        absent = {name for name in resources if name not in _texts()}
        missing += [f"{name}.sql" for name in sorted(absent)]
        missing += [
            f"the state of {name}.sql" for name in counted
            if name not in absent and _kind(name) in {None, "of wearer"}
        ] + [
            f"the state of {name}.sql" for name in self.fills
            if name not in absent and _kind(name) not in {None, "of wearer"}
        ]  # fmt: skip
        if missing:
            raise RegistryError(
                f"the record of the measure {self.name} is not whole",
                found=f"nothing as {', '.join(missing)}",
                done="Nothing was counted.",
                todo="Complete the record; what stands in it is said nowhere else.",
            )
        of_people = [spec.name for spec in columns_of(self.schema) if spec.counts_people]
        if isinstance(self.disclosure, CountsNoPeople) and of_people:
            raise RegistryError(
                f"the measure {self.name} is said to count no people",
                found=f"columns in a unit of people: {', '.join(of_people)}",
                done="Nothing was counted.",
                todo="Say how its small counts are hidden where it is shared.",
            )

    @property
    def name(self) -> str:
        """Name of the measure and its table."""
        return self.schema.Config.name


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
    """Return the text of one SQL resource, whichever room it lies in.

    A step that several queries share stands once: `{name}` takes over the resource of that name.
    """
    return SHARED_STEP.sub(lambda step: query_text(step[1]), _texts()[query])


@cache
def state_of(query: str) -> State | None:
    """Return what the head of a query says of its rows: "State: …"; None where it says nothing."""
    lines = [line.strip() for line in _texts()[query].splitlines()]
    head = [line.removeprefix("--").strip() for line in lines if line.startswith("--")]
    found = STATE.search(" ".join(head))
    if found is None:
        return None
    kind = found[1].split(",")[0].split(" by ")[0].removesuffix(" of wearers")
    keys = tuple(re.findall(r"\w+", found[3] or ""))
    return State(kind, keys, bool(found[2]) or kind == "of wearer")


def _kind(query: str) -> str | None:
    state = state_of(query)
    return state.kind if state is not None else None


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
