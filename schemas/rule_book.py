"""Every rule that a row of an export or reference table can fail, with its texts whole."""

from collections.abc import Iterator
from functools import cache

import polars as pl

from schemas.declare import INSTANT, Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, ColumnSpec, columns_of, rules_of
from schemas.rules import OF_COLUMNS, OF_RECORDS, OF_SETS, RULES, Said, say

# The day of a table's rows where it is not their local date.
DAY_OF = {"service_events": "occurred_on", "dryer_events": "occurred_on", "visit_counts": "month"}
DAY_RULE = "date_not_future"
OF_ANY_COLUMN = ("log_agrees", "session_agrees")
OF_TYPE = ("is_listed_word", "is_number", "is_whole_number", "is_true_or_false", "is_date",
           "is_moment", "is_short_text", "is_code")  # fmt: skip


def type_code(spec: ColumnSpec) -> str:
    """Return the rule that a text fails which is no value of a column's type."""
    if spec.vocabulary is not None:
        return "is_listed_word"
    kinds = {pl.Float64: "is_number", pl.Int64: "is_whole_number", pl.Boolean: "is_true_or_false",
             pl.Date: "is_date", INSTANT: "is_moment"}  # fmt: skip
    for kind, code in kinds.items():
        if spec.dtype == kind:
            return code
    return "is_short_text" if spec.text else "is_code"


def check_code(spec: ColumnSpec, *, is_missing: bool) -> str:
    """Return the rule that a typed value of a column fails: missing, no listed word, no range."""
    if is_missing:
        return "is_given"
    return "in_range" if spec.vocabulary is None and bounds(spec) else type_code(spec)


def bounds(spec: ColumnSpec) -> str:
    """Say between what bounds a column's values lie; empty where it has none."""
    told = " and ".join(
        bound
        for bound in (
            f"above {spec.gt:g}" if spec.gt is not None else "",
            f"at least {spec.ge:g}" if spec.ge is not None else "",
            f"at most {spec.le:g}" if spec.le is not None else "",
        )
        if bound
    )
    return f"{told} {spec.unit}" if told and spec.unit else told


def advice(spec: ColumnSpec) -> str:
    """Say what to write in a column."""
    if spec.vocabulary is not None:
        many = "; several joined by ';'" if spec.several else ""
        return f"write {', '.join(spec.vocabulary)}{many}"
    unit = f" in {spec.unit}" if spec.unit else ""
    day = "write the month as 2026-03" if spec.name == "month" else "write the day as 2026-03-28"
    return {
        "is_number": f"write digits with a decimal point{unit}, or leave it empty",
        "is_whole_number": "write digits only, or leave it empty",
        "is_true_or_false": "write true or false",
        "is_date": day,
        "is_moment": "write local time as 2026-03-28T14:05, or add the offset, as in +01:00",
        "is_short_text": "write a shorter text",
        "is_code": "write a short code: letters, digits, space and .+/#-_",
    }[type_code(spec)]


def of_column(spec: ColumnSpec, table: str) -> list[Said]:
    """Return the rules that a value of one column can fail."""
    own = {type_code(spec)} | ({"is_given"} if spec.required else set())
    own |= {"in_range"} if bounds(spec) else set()
    return [
        say(rule, table, spec.name, advice=advice(spec), bounds=bounds(spec))
        for rule in OF_COLUMNS
        if rule.code in own or rule.code not in {*OF_TYPE, "is_given", "in_range"}
    ]


def of_table(table: str, model: type[Table]) -> Iterator[Said]:
    """Give the rules that a row of one table can fail, each once a column at fault."""
    specs = columns_of(model)
    for spec in specs:
        yield from of_column(spec, table)
    for rule in rules_of(model):
        yield from (say(rule, table, column) for column in rule.refuses or (None,))
    yield from (say(rule, table, rule.column) for rule in OF_RECORDS)
    for rule in OF_SETS:
        if rule.tables and table not in rule.tables:
            continue
        if rule.code in OF_ANY_COLUMN:
            yield from (say(rule, table, spec.name) for spec in specs)
        else:
            is_day = rule.code == DAY_RULE
            yield say(rule, table, DAY_OF.get(table, "local_date") if is_day else rule.column)


@cache
def book() -> tuple[Said, ...]:
    """Return every rule of every table; its key is table, code and column."""
    return tuple(said for name, model in (EXPORTS | REFERENCE).items()
                 for said in of_table(name, model))  # fmt: skip


def rows() -> list[dict[str, str | None]]:
    """Return the rows of `contract_rule`."""
    return [
        {
            "table_name": said.table, "rule": said.code, "column_name": said.column,
            "sentence": said.sentence, "advice": said.advice, "likely_cause": said.cause,
            "fix": said.fix, "likely_cause_if_few": said.few_cause, "fix_if_few": said.few_fix,
        }
        for said in book()
    ]  # fmt: skip


@cache
def said_of(table: str, code: str, column: str | None) -> Said:
    """Return a rule as it is said of one table and column.

    Raises:
        KeyError: where there is none.
    """
    return {(one.table, one.code, one.column): one for one in book()}[table, code, column]


def kind_of(code: str) -> str:
    """Return the sort of fault that breaks a rule; a rule over several columns breaks a row."""
    return RULES[code].kind if code in RULES else "row"
