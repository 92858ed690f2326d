"""Chambers page: who reads right, and who needs a check."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.boiling import boiling
from reports.figures.carry_over import carry_over
from reports.figures.chamber_drift import chamber_drift
from reports.figures.chamber_use import chamber_use
from reports.figures.dose_checks import dose_checks
from reports.figures.dose_readings import dose_readings
from reports.figures.height import height
from schemas.chambers import STANDINGS

CHAMBERS = Dashboard(
    id="chambers",
    link="Chambers",
    heading="Which chambers read right?",
    lead="A known volume of water in an empty chamber shows whether its reading can be trusted.",
    sections=(
        Section(
            "Dose checks",
            "Standing is the first of these that applies: "
            + ", ".join(word.label for word in STANDINGS.values())
            + ". The methods page says what each means.",
            (dose_checks, dose_readings, chamber_drift),
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
