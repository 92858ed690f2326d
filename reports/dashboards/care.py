"""Care page, for the clinician."""

from reports import cautions
from reports.figure import Dashboard, Section
from reports.figures.claims import claims
from reports.figures.graded_rates import graded_rates
from reports.figures.not_assessed import not_assessed
from reports.figures.regression_to_mean import regression_to_mean
from reports.figures.repeatability import repeatability
from reports.figures.rescue_by_condition import rescue_by_condition
from reports.figures.rescue_by_group import rescue_by_exposure, rescue_by_style
from reports.figures.rescue_by_symptom import rescue_by_symptom
from reports.figures.routine_arms import routine_arms
from reports.figures.routine_baseline import routine_baseline
from reports.figures.routine_thirds import routine_thirds
from reports.figures.routine_verdict import routine_verdict
from reports.figures.working_improvement import working_improvement

CARE = Dashboard(
    id="care",
    link="Care",
    heading="What does drying do for an aid?",
    lead="Recovery of dead, weak and faulty aids, and measured change of aids that already work.",
    sections=(
        Section(
            "Aids that already work: dry them all?",
            "Compared are working aids at a clean-and-check, measured beforehand and without a "
            "known exposure or symptom: those that were dried against those only cleaned, at the "
            "same site in the same quarter. One fixed rule gives the verdict, whatever the "
            "numbers; aids that stopped working come first.",
            (routine_verdict, routine_arms, routine_baseline, routine_thirds),
        ),
        Section(
            "Aids with a problem",
            "The state before drying counts: an aid that works after a new battery, wax guard or "
            "cleaning was not made to work by drying. An aid that sounds again is no longer dead, "
            "though it may be weak or faulty; back to normal is what the first page calls working.",
            (rescue_by_condition, rescue_by_symptom, not_assessed, graded_rates, claims),
        ),
        Section(
            "Aids that already work, before and after",
            "The word here is measured improvement, beyond what a repeated measurement gives.",
            (working_improvement, regression_to_mean, repeatability),
        ),
        Section(
            "Exposure and style",
            "Associations among aids that were dried, not effects.",
            (rescue_by_exposure, rescue_by_style),
        ),
        Section(
            "Water in an aid, and dryers at home",
            "Water that a chamber reads stands on the page of moisture.",
            (),
            (
                ("Is one reading a lot? The form", "moisture.html#look-up"),
                ("Does a dryer at home go with drier aids?", "moisture.html#moisture-home-dryer"),
            ),
        ),
    ),
    cautions=cautions.ALL,
)
