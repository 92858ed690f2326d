"""Quality page: what was loaded, what was refused, and what to fix."""

from reports.figure import Dashboard, Section
from reports.figures.account import account
from reports.figures.agreement import agreement
from reports.figures.calendar_strip import calendar_strip
from reports.figures.corrections import corrections
from reports.figures.quality_checks import quality_checks
from reports.figures.records_carry import records_carry
from reports.figures.refused_rules import refused_rows, refused_values

QUALITY = Dashboard(
    id="quality",
    link="Data quality",
    heading="Whose records can be trusted, what was refused, and what is there to fix?",
    lead="Sites whose records cannot carry a comparison of recovery come first; then every row "
    "that was read is accounted for, and each refusal comes with its fix.",
    sections=(
        Section("Whose records can be trusted?", "", (records_carry,)),
        Section("Row account", "", (account,)),
        Section(
            "Refused rows and values",
            "A bad value in a required column refuses the row; in any other column the value "
            "alone is refused and the row stays. A clinic may send reviewed fixes.",
            (refused_rows, refused_values, corrections),
        ),
        Section("Checks over their threshold", "", (quality_checks,)),
        Section("Calendar", "", (calendar_strip,)),
        Section(
            "Grades and measurements",
            "The grade is given by the person who did the work.",
            (agreement,),
        ),
    ),
)
