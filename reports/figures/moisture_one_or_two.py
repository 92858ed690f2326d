"""Does a pair in the chamber read like one aid?"""

import polars as pl

from reports import rates
from reports.figure import Figure, Frames
from reports.figures import moisture, moisture_titles

QUESTION = "Do loads of two aids read like loads of one?"


def moisture_one_or_two(frames: Frames) -> Figure:
    """Draw one-aid loads beside the mean of pairs."""
    parts = [
        found.with_columns(pl.lit(name).alias("label"))
        for aids, name in ((1, "one aid"), (2, "two aids (mean of the pair)"))
        if not (found := moisture.loads(frames, "all", aids)).is_empty()
    ]
    if not parts:
        return rates.nothing(
            "moisture-one-or-two", QUESTION, "No load has been read by a checked chamber yet",
            "moisture_distribution", "moisture", "It needs loads read by checked chambers.",
        )  # fmt: skip
    frame = moisture.spoken(pl.concat(parts))
    return moisture.figure(
        frames, frame, id_="moisture-one-or-two", question=QUESTION,
        title=moisture_titles.spread(frame, "Median water per aid", "kinds of load"),
        heading="Load",
        subtitle="water read per aid, corrected by the chamber's dose checks; a load of two is "
        "one observation, its mean",
        caveats=(
            "A pair's mean varies less than one aid does: its tails are pulled in, so the two "
            "are never pooled in the figures below. The table moisture_distribution holds both "
            "together as a sensitivity. Who comes with two aids is not random.",
        ),
    )  # fmt: skip
