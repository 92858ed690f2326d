"""Chambers page: who reads right, and who needs a check."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.boiling import boiling
from reports.figures.carry_over import carry_over
from reports.figures.chamber_use import chamber_use
from reports.figures.dose_checks import dose_checks
from reports.figures.height import height
from reports.figures.within_tolerance import within_tolerance

CHAMBERS = Dashboard(
    id="chambers",
    link="Chambers",
    heading="Which chambers read right?",
    lead="A known volume of water in an empty chamber shows whether its reading can be trusted.",
    sections=(
        Section(
            "Dose checks",
            "Standing is the first of these that applies: not yet checked since the last service, "
            "check overdue, in tolerance, correctable, out of tolerance.",
            (dose_checks, within_tolerance),
        ),
        Section(
            "Physics",
            "What pressure, temperature, height and the run before can do to a reading.",
            (boiling, height, carry_over),
        ),
        Section("Use", "", (chamber_use,)),
    ),
    cautions=(cautions.CELLS[0], cautions.CELLS[1], cautions.HYGIENE),
)
