"""How much water do the builds of aid bring?"""

from reports import rates
from reports.figure import Figure, Frames
from reports.figures import moisture, moisture_titles

QUESTION = "How much water do aids of each style bring?"


def moisture_by_style(frames: Frames) -> Figure:
    """Draw one-aid loads by style."""
    found = moisture.loads(frames, "device_style")
    if found.is_empty():
        return rates.nothing(
            "moisture-by-style", QUESTION, "No load of one aid with a checked chamber yet",
            "moisture_distribution", "moisture",
            "It needs loads of one aid, read by chambers with dose checks.",
        )  # fmt: skip
    frame = moisture.spoken(rates.named(found, "device_style"))
    title = moisture_titles.spread(frame, "Median water", "styles")
    return moisture.figure(
        frames, frame, id_="moisture-by-style", question=QUESTION, title=title, heading="Style"
    )
