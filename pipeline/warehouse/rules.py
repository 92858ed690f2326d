"""Set rules: what can only be judged over all live rows, said as sites read it."""

IN_SITES = "site_id is listed in sites"
IN_DRYERS = "dryer_id is listed in dryers"
IN_MODELS = "model_code is listed in device_models"
IN_RECEIVERS = "receiver_code is listed in device_models"
NAMES_CHAMBER = "a run names its chamber where the site has more than one or lists none"
SESSION_NOT_FUTURE = "a session is not in the future"
CLINIC_OPEN = "a session falls while its clinic is open"
DATE_NOT_FUTURE = "a date is not in the future"
DUPLICATE = "duplicate row"
CONFLICTING = "conflicting duplicate row"
ONE_RUN = "a record fits one run of the chamber's log"
LOG_AGREES = "a record agrees with the chamber's log"
AGREEMENT = "columns of a session agree on all its rows"

COLUMN_OF = {
    NAMES_CHAMBER: "dryer_id",
    IN_SITES: "site_id",
    IN_DRYERS: "dryer_id",
    IN_MODELS: "model_code",
    IN_RECEIVERS: "receiver_code",
    SESSION_NOT_FUTURE: "local_date",
    CLINIC_OPEN: "local_date",
    DATE_NOT_FUTURE: "local_date",
    ONE_RUN: "started_at",
}
# The day of a table's rows where it is not their local date.
DAY_OF = {"service_events": "occurred_on", "dryer_events": "occurred_on", "visit_counts": "month"}
ADVICE_OF = {
    IN_SITES: "add the site to reference/sites; the row then enters by itself",
    IN_DRYERS: "add the chamber to reference/dryers; the row then enters by itself",
    IN_MODELS: "add the model to reference/device_models; the row then enters by itself",
    IN_RECEIVERS: "add the receiver to reference/device_models; the row then enters by itself",
    NAMES_CHAMBER: "list the chamber in reference/dryers; where there are several, name it in the"
    " log, or as a constant in mapping.toml",
    SESSION_NOT_FUTURE: "check the date; a right one enters by itself once its day has come",
    CLINIC_OPEN: "check the date, and the clinic's days in reference/sites",
    DATE_NOT_FUTURE: "check the date; a right one enters by itself once its day has come",
    ONE_RUN: "name the session in record and log, correct the time, or narrow match_window_minutes",
    DUPLICATE: "nothing to do: the row is counted once",
    CONFLICTING: "keep the right version of the two rows and export again",
}
ADVICE_LOG_AGREES = "correct the record, or the log; the log's value is used"
ADVICE_AGREEMENT = "correct the rows of this session so that they name one value"

_SITE = f"WHEN p.site_id NOT IN (SELECT site_id FROM site) THEN '{IN_SITES}'"
_CHAMBER = (
    "WHEN (p.site_id, p.dryer_id) NOT IN (SELECT (site_id, dryer_id) FROM dryer)"
    f" THEN '{IN_DRYERS}'"
)
_NO_CHAMBER = f"WHEN p.dryer_id IS NULL THEN '{NAMES_CHAMBER}'"
_EVENT_CHAMBER = f"WHEN p.dryer_id NOT IN (SELECT dryer_id FROM dryer) THEN '{IN_DRYERS}'"


def _not_future(column: str) -> str:
    return f"WHEN p.{column} > getvariable('as_of') + 1 THEN '{DATE_NOT_FUTURE}'"


RULE_OF = {
    "sites": (),
    "device_models": (),
    "climate_normals": (_SITE,),
    "dryers": (_SITE,),
    "dryer_events": (_EVENT_CHAMBER, _not_future("occurred_on")),
    "devices": (_SITE,),
    "chamber_runs": (_SITE, _NO_CHAMBER, _CHAMBER, _not_future("local_date")),
    "dose_checks": (_SITE, _CHAMBER, _not_future("local_date")),
    "repeat_measurements": (_SITE, _not_future("local_date")),
    "service_events": (_SITE, _not_future("occurred_on")),
    "visit_counts": (_SITE, _not_future("month")),
}


def rule_case(table: str) -> str:
    """Return the expression that names the first set rule a row of the table fails, or null."""
    tests = RULE_OF[table]
    return f"CASE {' '.join(tests)} END" if tests else "NULL::VARCHAR"


def column_of(table: str) -> dict[str, str]:
    """Return the column that each set rule looks at in one table."""
    return COLUMN_OF | {DATE_NOT_FUTURE: DAY_OF.get(table, "local_date")}
