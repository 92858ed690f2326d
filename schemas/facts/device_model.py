"""Device model: what the maker specifies."""

from schemas.declare import Table
from schemas.exports.device_models import DeviceModels
from schemas.facts.columns import rows_of

EXPORTED: type[Table] = rows_of(DeviceModels)


class DeviceModel(EXPORTED):  # type: ignore[misc, valid-type]
    """One row per model and receiver variant.

    Key: model_code, receiver_code.
    """

    class Config(Table.Config):
        """The table's name and key."""

        name = "device_model"
        metadata = {  # noqa: RUF012
            "key": ("model_code", "receiver_code"),
        }
