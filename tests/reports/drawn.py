"""Reads the drawings of a page back, as its script does."""


def unpacked(content):
    """Put the parts back where they stood."""

    def whole(value):
        if isinstance(value, list):
            return [whole(item) for item in value]
        if not isinstance(value, dict):
            return value
        if "$part" in value:
            return whole(content["parts"][value["$part"]])
        return {key: whole(item) for key, item in value.items()}

    return whole(content["drawings"])
