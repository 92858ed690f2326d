"""Dryer event: a service, a changed part, a move."""

from schemas.declare import Table, column
from schemas.exports.dryer_events import DryerEvents
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(DryerEvents)


class DryerEvent(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per service, changed sensor or seal, or move of a chamber.

    Key: site_id, dryer_id, occurred_on, event.
    """

    site_id: str = column("The clinic; of the chamber where the export names none.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "dryer_event"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "dryer_id", "occurred_on", "event"),
        }
