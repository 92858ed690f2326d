"""Service event: what happened to an aid away from the chamber."""

from schemas.declare import Table
from schemas.exports.service_events import ServiceEvents
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(ServiceEvents)


class ServiceEvent(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per event of an aid.

    Key: site_id, device_id, occurred_on, event.
    """

    class Config(Table.Config):
        """The table's name and key."""

        name = "service_event"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "occurred_on", "event"),
        }
