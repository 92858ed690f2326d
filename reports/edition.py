"""What the pages say of their edition."""

from collections.abc import Mapping
from typing import Any

INSIDE, SHARED = "inside", "shared"


def told(run: Mapping[str, Any], settings: Mapping[str, Any]) -> dict[str, str]:
    """Return id, name and words of the edition that a run's pages are of.

    Args:
        run: `edition` among it; a run without one counts as shared.
        settings: every setting in force, by dotted name.
    """
    if run.get("edition", SHARED) == INSIDE:
        return {
            "id": INSIDE,
            "name": "Inside edition",
            "words": "For the group's own people: no count is hidden, and groups of few are marked."
            " To pass figures on, use drytally share.",
        }
    most = int(settings["smallest_cell"]) - 1
    words = (
        f"Counts of 1 to {most} people are hidden, and what would reveal them."
        if most else "No count is hidden, as set."
    )  # fmt: skip
    return {"id": SHARED, "name": "Shared edition", "words": words}
