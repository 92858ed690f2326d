"""Repeat measurement: one aid measured twice, nothing done between."""

from schemas.declare import Table, column
from schemas.exports.repeat_measurements import RepeatMeasurements
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(RepeatMeasurements, moment="Moment of the first measurement.")


class RepeatMeasurement(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per pair of measurements of one aid, re-seated between them.

    Key: site_id, device_id, measured_at_utc, test_box_id, replicate.
    """

    test_box_id: str = column("Coupler test box as listed, else box 1, 2 ... of the site.")
    replicate: int = column("Number among pairs of one moment.", required=True)

    class Config(Table.Config):
        """The table's name and key."""

        name = "repeat_measurement"
        metadata = {  # noqa: RUF012
            "key": ("site_id", "device_id", "measured_at_utc", "test_box_id", "replicate"),
            "moment": "measured_at_utc",
        }
