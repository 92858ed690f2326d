"""Moisture page: how much water, from which aids, when."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.below_detection import below_detection
from reports.figures.home_dryer import home_dryer
from reports.figures.look_up import look_up
from reports.figures.moisture_by_cell import moisture_by_cell
from reports.figures.moisture_by_season import moisture_by_season
from reports.figures.moisture_by_style import moisture_by_style
from reports.figures.moisture_centiles import moisture_centiles
from reports.figures.moisture_contrasts import moisture_contrasts
from reports.figures.moisture_one_or_two import moisture_one_or_two

MOISTURE = Dashboard(
    id="moisture",
    link="Moisture",
    heading="How much water do aids bring to the clinic?",
    lead="Readings of drying chambers that read right or are corrected by dose checks, in "
    "microlitres.",
    sections=(
        Section(
            "Is one reading a lot?",
            "Compare a reading with aids of the same style, dried as long ago, in the same climate "
            "and season, that came working to a clean-and-check. Tropical "
            "seasons are wet and dry by rainfall; the wet one need not be the more humid. The form "
            "answers on this page alone, offline; nothing that is typed is kept or sent.",
            (look_up, moisture_centiles),
        ),
        Section(
            "How much water, from which aids and when",
            "The unit is the load: what was in the chamber together. Seasons follow the "
            "hemisphere; in tropical climates they are wet and dry by rainfall, not by the "
            "humidity of the air. With a dryer at home: whether aids are drier, not whether it "
            "dries them.",
            (
                moisture_by_style,
                moisture_by_season,
                moisture_by_cell,
                moisture_one_or_two,
                home_dryer,
            ),
        ),
        Section(
            "Too little to read, and more than the others",
            "Readings below detection; then each group against the other loads at the same sites, "
            "as often as one load of each is compared.",
            (below_detection, moisture_contrasts),
        ),
    ),
    cautions=(cautions.HYGIENE, cautions.GROUPS),
)
