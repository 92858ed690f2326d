"""SQL macros that every warehouse carries, for whoever asks it in SQL.

Each is a record, so that the warehouse creates it with its comment and the dictionary lists it.
"""

from dataclasses import dataclass

from schemas.outcomes import HEADLINES, TESTS
from schemas.rules import DUPLICATES

Z_95 = "1.959963984540054"
# In a default: the value that the group's setting has where the macros are made.
SMALLEST_CELL = "setting smallest_cell"


@dataclass(frozen=True)
class Macro:
    """One macro of the warehouse.

    Attributes:
        name: what it is called by.
        parameters: its parameters, defaults after ':='.
        body: the expression, or the query of a table macro.
        description: what it gives, for which input, and when null; written as its comment.
        example: a query that uses it and runs on any warehouse.
        is_table: it gives rows and is used after FROM.
    """

    name: str
    parameters: tuple[str, ...]
    body: str
    description: str
    example: str
    is_table: bool = False

    @property
    def signature(self) -> str:
        """The macro as it is called."""
        return f"{self.name}({', '.join(self.parameters)})"

    def statements(self, smallest_cell: int) -> list[str]:
        """Return the statements that create it and its comment."""
        kind, form = ("TABLE ", "AS TABLE") if self.is_table else ("", "AS")
        told = self.description.replace("'", "''")
        signature = self.signature.replace(SMALLEST_CELL, str(smallest_cell))
        return [
            f"CREATE OR REPLACE MACRO {signature} {form} {self.body.strip()}",
            f"COMMENT ON MACRO {kind}{self.name} IS '{told}'",
        ]


def _wilson(sign: str, exact_at: str, exact: str) -> str:
    """Return one Wilson limit; its end is exact where rounding would miss it by one unit."""
    return f"""
        CASE
            WHEN n > 0 AND k BETWEEN 0 AND n THEN
                CASE
                    WHEN k = {exact_at} THEN {exact}
                    ELSE (
                        2.0 * k + z * z
                        {sign} z * sqrt(4.0 * k * (n - k) / n + z * z)
                    ) / (2.0 * (n + z * z))
                END
        END::DOUBLE
    """


def _difference(sign: str, near: str, far: str) -> str:
    """Return one of Newcombe's limits, from the single proportions' Wilson limits."""
    return f"""
        CASE
            WHEN n1 > 0 AND n2 > 0 THEN
                (k1 / n1 - k2 / n2) {sign} sqrt(
                    pow(k1 / n1 - wilson_{near}(k1, n1, z := z), 2)
                    + pow(k2 / n2 - wilson_{far}(k2, n2, z := z), 2)
                )
        END::DOUBLE
    """


RESCUED = " ".join(
    f"WHEN '{definition}' THEN {test.format(after='condition_after')}"
    for definition, test in TESTS.items()
)
HEADLINE = " ".join(
    f"WHEN '{condition}' THEN {TESTS[one.definition].format(after='condition_after')}"
    for condition, one in HEADLINES.items()
    if one.definition in TESTS
)
MACROS: tuple[Macro, ...] = (
    Macro(
        "wilson_low",
        ("k", "n", f"z := {Z_95}"),
        _wilson("-", "0", "0.0"),
        "Lower Wilson limit of k successes in n, as a share 0-1; null without observations."
        " z 1.96 is 95 %. As if all were independent: the measures' adjusted limits are by"
        " wearer. Source: Wilson 1927, J Am Stat Assoc 22:209-212.",
        example="SELECT wilson_low(81, 263)",
    ),
    Macro(
        "wilson_high",
        ("k", "n", f"z := {Z_95}"),
        _wilson("+", "n", "1.0"),
        "Upper Wilson limit of k successes in n, as a share 0-1; null without observations."
        " z 1.96 is 95 %. As if all were independent: the measures' adjusted limits are by"
        " wearer. Source: Wilson 1927, J Am Stat Assoc 22:209-212.",
        example="SELECT wilson_high(81, 263)",
    ),
    Macro(
        "difference_low",
        ("k1", "n1", "k2", "n2", f"z := {Z_95}"),
        _difference("-", "low", "high"),
        "Lower limit of k1/n1 less k2/n2, two independent groups; null without observations in"
        " either. As if all were independent. Source: Newcombe 1998, Stat Med 17:873-890,"
        " method 10.",
        example="SELECT difference_low(56, 70, 48, 80)",
    ),
    Macro(
        "difference_high",
        ("k1", "n1", "k2", "n2", f"z := {Z_95}"),
        _difference("+", "high", "low"),
        "Upper limit of k1/n1 less k2/n2, two independent groups; null without observations in"
        " either. As if all were independent. Source: Newcombe 1998, Stat Med 17:873-890,"
        " method 10.",
        example="SELECT difference_high(56, 70, 48, 80)",
    ),
    Macro(
        "rate_text",
        ("k", "n"),
        """
        CASE
            WHEN n > 0 THEN printf(
                '%.1f %% (%.1f to %.1f %%), %d of %d',
                100.0 * k / n, 100.0 * wilson_low(k, n), 100.0 * wilson_high(k, n),
                k::BIGINT, n::BIGINT
            )
            ELSE 'no estimate'
        END
        """,
        "A rate in words with its 95 % Wilson limits and its counts; 'no estimate' where n is 0"
        " or null.",
        example="SELECT rate_text(81, 263)",
    ),
    Macro(
        "is_small_cell",
        ("k", "n", "wearers", f"smallest := {SMALLEST_CELL}"),
        """
        (k > 0 AND k < smallest)
        OR (n - k > 0 AND n - k < smallest)
        OR (wearers > 0 AND wearers < smallest)
        """,
        "Whether a cell of k in n, from so many wearers, is too small to leave the clinic:"
        " k, n - k or wearers between 1 and smallest - 1; smallest is the group's setting unless"
        " told."
        " Totals that give such a cell away need hiding too.",
        example="SELECT is_small_cell(4, 120, 90)",
    ),
    Macro(
        "is_duplicate",
        ("rule",),
        f"rule IN {DUPLICATES}",
        "Whether a row of quarantined_row is one of a key that another row holds already: counted"
        " once, not refused.",
        example="SELECT is_duplicate('duplicate')",
    ),
    Macro(
        "is_rescued",
        ("definition", "condition_after"),
        f"CASE definition {RESCUED} END",
        "Whether a graded aid is a success by a definition: sounds_again is not dead after the"
        " cycle, back_to_normal works as it should. Null for one not assessed, and for definitions"
        " that need measures.",
        example="SELECT is_rescued('sounds_again', 'weak')",
    ),
    Macro(
        "is_headline_rescue",
        ("condition_before", "condition_after"),
        f"CASE condition_before {HEADLINE} END",
        "Whether a graded aid is a success by the headline of its condition before drying: a dead"
        " one sounds again, a weak or otherwise faulty one is back to normal. Null for working"
        " aids, whose headline needs measures, and for aids not assessed.",
        example="SELECT is_headline_rescue('weak', 'normal')",
    ),
    Macro(
        "chamber_standing",
        ("days_since_check", "standing_in_time", "overdue_days"),
        """
        CASE
            WHEN days_since_check IS NULL THEN 'never_checked'
            WHEN days_since_check > overdue_days THEN 'overdue'
            ELSE standing_in_time
        END
        """,
        "Calibration standing of a chamber on a day: never checked with water since its last"
        " service, changed part or move (days null); overdue; else the standing that"
        " calibration_line gives while checks are in time. Blanks are no checks.",
        example="SELECT chamber_standing(12, 'in_tolerance', 90)",
    ),
    Macro(
        "saturation_pressure_kpa",
        ("temp_c",),
        """
        CASE
            WHEN temp_c BETWEEN 0 AND 200 THEN exp(
                -5800.2206 / (temp_c + 273.15) + 1.3914993 - 0.048640239 * (temp_c + 273.15)
                + 4.1764768e-5 * pow(temp_c + 273.15, 2) - 1.4452093e-8 * pow(temp_c + 273.15, 3)
                + 6.5459673 * ln(temp_c + 273.15)
            ) / 1000.0
        END::DOUBLE
        """,
        "Pressure in kPa, absolute, under which water at this temperature boils; 0 to 200 °C,"
        " else null. Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equation 6.",
        example="SELECT saturation_pressure_kpa(36)",
    ),
    Macro(
        "dictionary",
        ("pattern := '%'",),
        """
        WITH relation AS (
            SELECT table_name AS name, 'table' AS type, comment
            FROM duckdb_tables() WHERE NOT internal AND NOT temporary
            UNION ALL
            SELECT view_name, 'view', comment
            FROM duckdb_views() WHERE NOT internal AND NOT temporary
        ),

        entry AS (
            SELECT name, 0 AS place, NULL::VARCHAR AS column_name, type, comment AS description
            FROM relation
            UNION ALL
            SELECT c.table_name, c.column_index, c.column_name, c.data_type, c.comment
            FROM duckdb_columns() AS c
            JOIN relation AS r ON r.name = c.table_name
            WHERE NOT c.internal
            UNION ALL
            SELECT
                function_name, 0, NULL, 'macro',
                function_name || '(' || array_to_string(parameters, ', ') || '): ' || comment
            FROM duckdb_functions()
            WHERE function_type IN ('macro', 'table_macro') AND comment IS NOT NULL
        )

        SELECT name, column_name, type, description
        FROM entry
        WHERE CASE
            WHEN contains(pattern, '%')
                THEN name ILIKE pattern OR column_name ILIKE pattern OR description ILIKE pattern
            ELSE contains(lower(concat_ws(' ', name, column_name, description)), lower(pattern))
        END
        ORDER BY name, place
        """,
        "Every table, column and macro whose name or description holds the text, or is like the"
        " pattern where it has a %, with its meaning and unit: FROM dictionary('moisture').",
        example="FROM dictionary('delay')",
        is_table=True,
    ),
)


def statements(smallest_cell: int) -> list[str]:
    """Return the statements that create every macro with its comment, in order.

    Args:
        smallest_cell: the group's setting.
    """
    return [statement for macro in MACROS for statement in macro.statements(smallest_cell)]
