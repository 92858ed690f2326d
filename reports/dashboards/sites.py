"""Sites page, for the director."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.beside_sites import beside_sites
from reports.figures.chamber_use import chamber_use
from reports.figures.dead_aids_dried import dead_aids_dried
from reports.figures.outcome_ladder import outcome_ladder
from reports.figures.repairs_avoided import repairs_avoided
from reports.figures.site_comparison import (
    compared_dead,
    compared_not_assessed,
    compared_weak,
)
from reports.figures.site_funnel import funnel_dead, funnel_weak
from reports.figures.site_rates import site_dead, site_weak
from reports.figures.site_worsened import compared_worsened
from reports.figures.trend import trend
from reports.figures.trend_sites import trend_sites

SITES = Dashboard(
    id="sites",
    link="Sites",
    heading="Are the chambers used, and what happens at each site?",
    lead="Use of the chambers, each site against what its aids lead to expect, and the share of "
    "problem aids that recovers.",
    sections=(
        Section(
            "Use of the chambers",
            "A chamber that stands idle dries nobody's aids.",
            (chamber_use, dead_aids_dried),
        ),
        Section(
            "Each site against what its aids lead to expect",
            "What counts as expected comes from the other sites' results with aids of the same "
            "condition, exposure, delay, style, cell, age and season.",
            (
                compared_worsened,
                compared_dead,
                compared_weak,
                compared_not_assessed,
                beside_sites,
            ),
        ),
        Section(
            "Chance at each site",
            "How far chance alone would take a site from the group's rate, given its own aids.",
            (funnel_dead, funnel_weak),
        ),
        Section(
            "Recovery at each site, as counted",
            "The rates describe each site's own aids. They do not compare the sites' work.",
            (site_dead, site_weak),
        ),
        Section(
            "What became of the aids, and what drying may have spared",
            "From arrival through cleaning and drying to return, repair or replacement.",
            (outcome_ladder, repairs_avoided),
        ),
        Section(
            "Over time",
            "Months differ by chance alone; a signal is a month or a run that chance rarely gives.",
            (trend, trend_sites),
        ),
    ),
    cautions=(cautions.GROUPS,),
)
