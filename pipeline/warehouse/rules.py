"""Set rules: what can only be judged over all live rows, by the codes of `schemas.rules`."""

from schemas.rule_book import DAY_OF, DAY_RULE
from schemas.rules import OF_SETS

_SITE = "WHEN p.site_id NOT IN (SELECT site_id FROM site) THEN 'site_listed'"
_CHAMBER = (
    "WHEN (p.site_id, p.dryer_id) NOT IN (SELECT (site_id, dryer_id) FROM dryer)"
    " THEN 'chamber_listed'"
)
_NO_CHAMBER = "WHEN p.dryer_id IS NULL THEN 'run_names_chamber'"
_EVENT_CHAMBER = (
    "WHEN NOT EXISTS (FROM dryer AS d WHERE d.dryer_id = p.dryer_id"
    " AND d.site_id = coalesce(p.site_id, d.site_id)) THEN 'chamber_listed'"
    " WHEN p.site_id IS NULL AND 1 <"
    " (SELECT count(*) FROM dryer AS d WHERE d.dryer_id = p.dryer_id) THEN 'chamber_named_once'"
)


def _not_future(column: str) -> str:
    return f"WHEN p.{column} > getvariable('as_of') + 1 THEN '{DAY_RULE}'"


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
    own = {rule.code: rule.column for rule in OF_SETS if rule.column}
    return own | {DAY_RULE: DAY_OF.get(table, "local_date")}
