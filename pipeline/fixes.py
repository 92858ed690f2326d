"""Which few fixes clear most refused rows: one ranking for commands, to-do lists and pages.

A fix answers one fault of one site: rule, column and form of what was found. A row is cleared once
every fault of it is fixed. Free of heavy imports.
"""

from collections import Counter
from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from pipeline.intake.remedy import Remedy, remedy

Key = TypeVar("Key", bound=Hashable)
FIRST = 3
Ask = Callable[[str], list[dict[str, Any]]]
FAULT = """
WITH fault AS (
    SELECT DISTINCT split_part(file, '/', 1) AS site_id, table_name, rule, column_name,
        CASE WHEN found LIKE 'text, %: %' THEN split_part(found, ': ', 2) ELSE '' END AS form,
        file_id, line, part_of_line
    FROM {table}
    WHERE NOT is_duplicate(rule)
),
kind AS (
    SELECT site_id, table_name, rule, column_name, form,
        row_number() OVER (ORDER BY site_id, table_name, rule, column_name, form) AS number
    FROM (SELECT DISTINCT site_id, table_name, rule, column_name, form FROM fault)
)
"""
KINDS = (
    FAULT
    + """
SELECT k.number, k.site_id, k.table_name, k.rule, k.column_name, k.form,
    coalesce(c.sentence, k.rule) AS sentence, c.advice, c.likely_cause, c.fix,
    c.likely_cause_if_few, c.fix_if_few
FROM kind AS k
LEFT JOIN contract_rule AS c ON c.table_name = k.table_name AND c.rule = k.rule
    AND c.column_name IS NOT DISTINCT FROM k.column_name
ORDER BY k.number
"""
)
TOGETHER = (
    FAULT
    + """,
row_read AS (
    SELECT string_agg(DISTINCT k.number::VARCHAR, ',') AS numbers
    FROM fault AS f
    JOIN kind AS k ON k.site_id = f.site_id AND k.table_name = f.table_name AND k.rule = f.rule
        AND k.form = f.form AND k.column_name IS NOT DISTINCT FROM f.column_name
    GROUP BY f.file_id, f.line, f.part_of_line
)
SELECT numbers, count(*) AS rows FROM row_read GROUP BY numbers
"""
)


@dataclass(frozen=True)
class Ranked(Generic[Key]):
    """One fix in its place.

    Attributes:
        key: which fix.
        place: from 1; the fix that touches most rows first.
        rows: refused rows that it touches.
        cleared: refused rows wholly sound once it and all before it are made.
        refused: all refused rows.
    """

    key: Key
    place: int
    rows: int
    cleared: int
    refused: int


def rank(
    together: Iterable[tuple[Collection[Key], int]], order: Sequence[Key]
) -> list[Ranked[Key]]:
    """Rank fixes by the refused rows they touch.

    Args:
        together: fixes that a row needs, each set with the number of such rows; none empty.
        order: every fix; an earlier one goes first where two touch equally many rows.
    """
    rows = [(frozenset(keys), n) for keys, n in together]
    touched: Counter[Key] = Counter()
    for keys, n in rows:
        touched.update(dict.fromkeys(keys, n))
    at = {key: number for number, key in enumerate(order)}
    ranked = sorted(touched, key=lambda key: (-touched[key], at[key]))
    place = {key: number for number, key in enumerate(ranked, start=1)}
    last: Counter[int] = Counter()
    for keys, n in rows:
        last[max(place[key] for key in keys)] += n
    refused, cleared, found = sum(last.values()), 0, []
    for key in ranked:
        cleared += last[place[key]]
        found.append(Ranked(key, place[key], touched[key], cleared, refused))
    return found


def told(ranked: Sequence[Ranked[Any]], what: str = "refused rows") -> str:
    """Say what the first fixes clear; empty where nothing is refused."""
    if not ranked:
        return ""
    first, of = min(FIRST, len(ranked)), len(ranked)
    cleared, refused = ranked[first - 1].cleared, ranked[0].refused
    share = "all" if cleared == refused else f"{100 * cleared / refused:.0f} % of"
    fixes = f"the first {first} of {of} fixes clear"
    if first == of:
        fixes = f"{first} fix clears" if first == 1 else f"{first} fixes clear"
    return f"{fixes} {share} {refused} {what}"


def fixes_of(ask: Ask, table: str = "quarantined_row") -> list[dict[str, Any]]:
    """Return the fixes that a warehouse's refused rows, or values, need, in their order.

    Args:
        ask: answers a query of the warehouse with its rows as records.
        table: `quarantined_row`, or `refused_value`.

    Returns:
        site_id, table_name, rule, sentence, column_name, form, advice, cause, fix, place, rows,
        cleared, refused.
    """
    kinds = {row.pop("number"): row for row in ask(KINDS.format(table=table))}
    together = [
        ([int(number) for number in row["numbers"].split(",")], row["rows"])
        for row in ask(TOGETHER.format(table=table))
    ]
    return [_record(kinds[one.key], one) for one in rank(together, sorted(kinds))]


def _record(kind: dict[str, Any], one: Ranked[int]) -> dict[str, Any]:
    told: Remedy = remedy(kind, one.rows)
    own = ("site_id", "table_name", "rule", "sentence", "column_name", "form", "advice")
    return {name: kind[name] for name in own} | {
        "cause": told.cause, "fix": told.fix, "place": one.place, "rows": one.rows,
        "cleared": one.cleared, "refused": one.refused,
    }  # fmt: skip


def ranked_of(fixes: Sequence[dict[str, Any]]) -> list[Ranked[int]]:
    """Return the ranking that a warehouse's fixes carry."""
    return [Ranked(f["place"], f["place"], f["rows"], f["cleared"], f["refused"]) for f in fixes]
