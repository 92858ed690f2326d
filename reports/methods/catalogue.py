"""Every section of the methods page, in the order of the page."""

from reports import cautions
from reports.methods.agreement import AGREEMENT
from reports.methods.chambers import CHAMBERS
from reports.methods.delay import DELAY
from reports.methods.entry import Entry
from reports.methods.follow_up import FOLLOW_UP
from reports.methods.measured_change import MEASURED_CHANGE
from reports.methods.moisture import MOISTURE
from reports.methods.quality import QUALITY
from reports.methods.rescue import RESCUE
from reports.methods.routine_drying import ROUTINE_DRYING
from reports.methods.sites import SITES
from reports.methods.words import WORDS

ENTRIES = (
    *WORDS,
    *RESCUE,
    *DELAY,
    *AGREEMENT,
    *MEASURED_CHANGE,
    *FOLLOW_UP,
    *ROUTINE_DRYING,
    *SITES,
    *MOISTURE,
    *CHAMBERS,
    *QUALITY,
    Entry("cautions-all", "All cautions", cautions.ALL),
)
ANCHORS = tuple(entry.anchor for entry in ENTRIES)
