"""Contract rule: what each code under which a row or a value is refused says."""

from schemas.declare import Table, column


class ContractRule(Table):
    """One row per rule, table and column at fault; the column is null where it is the whole row.

    `quarantined_row` and `refused_value` name rules by these codes. Key: table_name, rule,
    column_name.
    """

    table_name: str = column("The export or reference table.", required=True)
    rule: str = column("The rule's code.", required=True)
    column_name: str = column("The column at fault; null where it is the whole row.")
    sentence: str = column("The rule as a clinic reads it, true of a sound row.", required=True)
    advice: str = column("What the clinic can do about one such row.", required=True)
    likely_cause: str = column(
        "Why it is not met, most likely, where three rows of a clinic or more do not meet it.",
        required=True,
    )
    fix: str = column("What then clears them all.", required=True)
    likely_cause_if_few: str = column("The same of one row or two.", required=True)
    fix_if_few: str = column("What clears those.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "contract_rule"
        metadata = {"key": ("table_name", "rule", "column_name")}  # noqa: RUF012
