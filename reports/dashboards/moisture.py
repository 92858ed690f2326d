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
            "One aid or two, and readings below detection",
            "The unit is the load: what was in the chamber together.",
            (moisture_one_or_two, below_detection),
        ),
        Section(
            "More water than the others?",
            "Each group against the other loads at the same sites, as often as one load of each "
            "is compared.",
            (moisture_contrasts,),
        ),
        Section(
            "Dryer at home",
            "Whether it goes with drier aids, not whether it dries them.",
            (home_dryer,),
        ),
        Section("Style", "", (moisture_by_style,)),
        Section(
            "Season and climate",
            "Seasons follow the hemisphere; in tropical climates they are wet and dry by rainfall, "
            "not by the humidity of the air.",
            (moisture_by_season, moisture_by_cell),
        ),
    ),
    cautions=(cautions.HYGIENE, cautions.GROUPS),
)
