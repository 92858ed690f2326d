"""Time page, for the clinician: how soon, how long, how soon again."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.after_rescue import after_rescue
from reports.figures.cycle_dry import cycle_dry
from reports.figures.cycle_outcome import cycle_rescue, cycle_return
from reports.figures.delay_curve import delay_curve
from reports.figures.recheck import recheck_days, recheck_gain
from reports.figures.rescue_by_group import rescue_by_cycle, rescue_by_delay

TIME = Dashboard(
    id="time",
    link="Time",
    heading="How long to dry, and how soon to come back?",
    lead="Delay before drying, length and number of cycles, and how long an aid then stays well.",
    sections=(
        Section(
            "How long to dry",
            "Recovery and returns first, what a shorter cycle would leave damp next, minutes last.",
            (cycle_rescue, cycle_return, cycle_dry, rescue_by_cycle),
        ),
        Section(
            "When to come back",
            "How soon the next problem comes, and how water returns between dryings.",
            (after_rescue, recheck_gain, recheck_days),
        ),
        Section(
            "Delay before drying",
            "Associations among aids that were dried, not effects.",
            (rescue_by_delay, delay_curve),
        ),
    ),
    cautions=cautions.ALL,
)
