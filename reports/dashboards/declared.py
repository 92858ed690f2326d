"""The pages of figures, in the order of the navigation."""

from reports.dashboards.care import CARE
from reports.dashboards.chambers import CHAMBERS
from reports.dashboards.moisture import MOISTURE
from reports.dashboards.quality import QUALITY
from reports.dashboards.sites import SITES
from reports.dashboards.time import TIME
from reports.figure import Dashboard

DASHBOARDS = (SITES, CARE, TIME, MOISTURE, CHAMBERS, QUALITY)

INDEX = Dashboard(
    id="index", link="Overview", heading="Drying of hearing aids: where things stand",
    lead="What becomes of dead aids, which site first and about what, what needs attention.",
    sections=(),
)  # fmt: skip
EVERY_SITE = Dashboard(
    id="every-site", link="Every site", heading="Every site and question",
    lead="The first page names the sites that stand out; here stand all of them.", sections=(),
)  # fmt: skip
METHODS = Dashboard(
    id="methods", link="Methods", heading="How it is counted",
    lead="Definitions, formulas, sources and the settings in force.", sections=(),
)  # fmt: skip
DICTIONARY = Dashboard(
    id="dictionary", link="Dictionary", heading="Tables and columns",
    lead="Every table of the warehouse, with units and meaning.", sections=(),
)  # fmt: skip
PAGES = (INDEX, *DASHBOARDS, METHODS, DICTIONARY)
