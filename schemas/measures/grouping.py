"""Columns every grouped measure has: what it is grouped by, and the group's values as text."""

from schemas.declare import Table, column


class Grouped(Table):
    """Base of the measures that are counted by groups."""

    grouping: str = column(
        "What the rows are grouped by: 'all', or columns joined by '+'.", required=True
    )
    group_1: str = column("Value of the first grouping column; null where it was not recorded.")
    group_2: str = column("Value of the second grouping column.")
    group_3: str = column("Value of the third grouping column.")
