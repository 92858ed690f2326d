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
            "How long loads take to dry rests on most loads and comes first; then whether a longer "
            "cycle goes with more recoveries or fewer returns. Never run a cycle shorter than the "
            "maker of the chamber states.",
            (cycle_dry, cycle_rescue, cycle_return, rescue_by_cycle),
        ),
        Section(
            "When to come back",
            "Nobody has compared earlier with later rechecks, so that no interval is proven best. "
            "By when a tenth of aids that work after drying have a new problem is what a first "
            "recheck may go by; the clinic's lead decides. Then how water returns between dryings.",
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
