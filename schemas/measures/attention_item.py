"""Attention items: what somebody should look at, one list for pages, commands and exit codes."""

from schemas import vocabulary as words
from schemas.declare import Table, column


class AttentionItem(Table):
    """One row per thing to look at: a harm, a breach of a safety rule, a result, a gap in records.

    A site without a finding has no row. An item is the same from run to run while its kind, site
    and subject are; `since_run` is the run that first listed it without a break.

    Key: item_id.
    """

    item_id: str = column(
        "Twelve hexadecimal digits made of kind, site and subject.", required=True
    )
    severity: str = column(
        "First harm to aids that worked, then safety, then results, then records.",
        vocabulary=words.SEVERITY, required=True,
    )  # fmt: skip
    item_kind: str = column("What it is about, as a word.", required=True)
    site_id: str = column("The clinic; null where it is the group's.")
    subject: str = column(
        "What of the site: a chamber, a file, an outcome, a check; null where it is all of it."
    )
    words: str = column("What was found and what to do, in a sentence or two.", required=True)
    count: int = column("How many were found; null where it is not counted.", unit="count", ge=0)
    out_of: int = column("Out of how many; null where that is not counted.", unit="count", ge=0)
    counted_words: str = column("What is counted, in the plural; null where nothing is.")
    page: str = column("The page that says more.", required=True)
    anchor: str = column("The place on that page.", required=True)
    since_run: str = column("The run that first listed it.")

    class Config(Table.Config):
        """The table's name and key."""

        name = "attention_item"
        metadata = {"key": ("item_id",)}  # noqa: RUF012
