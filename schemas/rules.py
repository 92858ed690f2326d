"""Rules that rows and values must meet: code, sentence, column, advice and likely cause, once.

The code is what tables and programs hold; it names what holds of a sound row. The sentence is
only shown. A rule over several columns of one table is declared in the table's class, and its
code is its method's name. Free of heavy imports.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from schemas.meaning import MeaningError

FEW = 3
SLIP = "a slip in single rows"
LONGEST_RECORD = 65_536
LONGEST_TEXT = 200


class Kind(StrEnum):
    """What sort of fault breaks a rule, so that advice need not read its sentence."""

    WORD = "word"
    NUMBER = "number"
    DAY = "day"
    MOMENT = "moment"
    TRUTH = "truth"
    CODE = "code"
    MISSING = "missing"
    RANGE = "range"
    PERSONAL = "personal"
    CELL = "cell"
    FORM = "form"
    RECORD = "record"
    FOLDER = "folder"
    CHAMBER = "chamber"
    NO_CHAMBER = "no_chamber"
    MODEL = "model"
    SITE = "site"
    FUTURE = "future"
    CLOSED = "closed"
    DUPLICATE = "duplicate"
    CONFLICT = "conflict"
    RUN = "run"
    AGREEMENT = "agreement"
    ROW = "row"


@dataclass(frozen=True)
class Rule:
    """One rule; in its texts {table}, {column}, {bounds} and {advice} stand for what it is of.

    Attributes:
        code: what tables hold.
        sentence: as a site reads it, true of a sound row.
        advice: what a site can do about it; "" takes the column's own advice.
        kind: the sort of fault.
        cause: why it is not met, most likely, where many rows do not meet it.
        line: the line of a mapping or a reference table that clears all such rows at once.
        few_cause, few_advice: the same where only one or two rows do not meet it and the line is
            one of a mapping, which answers habits and not slips.
        column: the column at fault, where the rule is always of one.
        refuses: columns set to null where the rule fails; none: the row falls.
        tables: the tables it is judged in; none: all.
    """

    code: str
    sentence: str
    advice: str = ""
    kind: Kind = Kind.ROW
    cause: str = SLIP
    line: str = ""
    few_cause: str = SLIP
    few_advice: str = "correct the cell: {advice}"
    column: str | None = None
    refuses: tuple[str, ...] = ()
    tables: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a rule that a site could not read.

        Raises:
            MeaningError: where its sentence or its cause is missing.
        """
        if not self.sentence or not self.cause or " " in self.code:
            raise MeaningError(
                f"the rule {self.code!r} lacks its sentence, its cause or a plain code: write them"
                " in schemas/rules.py, or where its table declares it"
            )


@dataclass(frozen=True)
class Said:
    """A rule as it is said of one table and column: every text whole.

    Attributes:
        code, sentence, advice, cause: as in `Rule`.
        fix: what clears all such rows: a line to add, or the advice.
        few_cause, few_fix: the same where a site has fewer than `FEW` such rows.
    """

    table: str
    code: str
    column: str | None
    sentence: str
    advice: str
    cause: str
    fix: str
    few_cause: str
    few_fix: str


def say(rule: Rule, table: str, column: str | None = None, **more: str) -> Said:
    """Fill a rule's texts for one table and column.

    Args:
        rule: the rule.
        table: the export table.
        column: the column at fault.
        more: `bounds` and the column's `advice`, where the rule is of a column.
    """
    names = {"table": table, "column": column or "", "bounds": "", "advice": "", **more}
    advice = rule.advice or names["advice"]
    names["advice"] = advice
    fix, few_cause, few_fix = advice, rule.cause, advice
    if rule.line:
        fix = few_fix = f"add to {rule.line.format(**names)}"
        if not rule.line.startswith("reference/"):
            few_cause, few_fix = rule.few_cause, rule.few_advice.format(**names)
    return Said(
        table, rule.code, column, rule.sentence.format(**names), advice, rule.cause, fix,
        few_cause, few_fix,
    )  # fmt: skip


OF_A_SITE = (
    "sessions", "chamber_runs", "dose_checks", "repeat_measurements", "service_events",
    "visit_counts", "dryers", "devices", "climate_normals",
)  # fmt: skip
WITH_A_DAY = (
    "chamber_runs", "dose_checks", "repeat_measurements", "service_events", "visit_counts",
    "dryer_events",
)  # fmt: skip
COMES_BY_ITSELF = "the row then enters by itself"
_ONCE_IN = "mapping.toml: [{table}"
# Of a column: what its type, its words, its range and its form ask.
OF_COLUMNS = (
    Rule("is_given", "{column} is given", kind=Kind.MISSING, cause="a cell left empty"),
    Rule(
        "is_listed_word",
        "{column} is one of the listed words",
        kind=Kind.WORD,
        cause="the site's own words",
        line=_ONCE_IN + '.values.{column}] "your word" = "the listed word"',
    ),
    Rule("is_number", "{column} is a number", kind=Kind.NUMBER),
    Rule("is_whole_number", "{column} is a whole number", kind=Kind.NUMBER),
    Rule("is_true_or_false", "{column} is true or false", kind=Kind.TRUTH),
    Rule("is_date", "{column} is a date", kind=Kind.DAY),
    Rule(
        "is_moment",
        "{column} is a date and time that exists at the site",
        kind=Kind.MOMENT,
        cause="an hour the clocks skipped or repeated, or no date",
    ),
    Rule(
        "is_short_text", f"{{column}} is text of at most {LONGEST_TEXT} characters", kind=Kind.CODE
    ),
    Rule("is_code", "{column} is a code of at most 40 characters", kind=Kind.CODE),
    Rule(
        "in_range",
        "{column} is {bounds}",
        kind=Kind.RANGE,
        cause="another unit, or a slip",
        line=_ONCE_IN + '.units] {column} = "its unit in your export"',
        few_cause="a value that cannot be",
        few_advice="look it up in the record; else empty the cell",
    ),
    Rule(
        "no_personal_details",
        "{column} holds no person's details",
        "it looks like a name, a birth date, a phone number or an e-mail address: remove it; a code"
        " of the trade is safe without spaces, such as gentle-long",
        Kind.PERSONAL,
        "text that looks like a person's details",
    ),
    Rule(
        "no_error_cell",
        "{column} holds no error of the spreadsheet",
        "correct the formula, or write the value itself",
        Kind.CELL,
        "errors of a formula",
    ),
    Rule(
        "no_uncached_formula",
        "{column} holds a value, not a formula without its answer",
        "open the file in the spreadsheet and save it, or write the value itself",
        Kind.CELL,
        "formulas saved without their answers",
    ),
    Rule(
        "no_lost_digits",
        "{column} with 16 digits or more is stored as text",
        "format the column as text before typing: the spreadsheet has lost the last digits",
        Kind.CELL,
        "long numbers stored as numbers",
    ),
    Rule(
        "in_stated_form",
        "{column} is written as the site's mapping says",
        "correct the value, or the unit and marks in mapping.toml",
        Kind.FORM,
    ),
)
# Of a record, before it is cut into cells, and of the folder it lies in.
_COMPARE = "compare the row with the header; quote text that holds the delimiter"
OF_RECORDS = (
    Rule(
        "field_count",
        "a row has as many fields as the header",
        _COMPARE,
        Kind.RECORD,
        "a comma or a line break inside text",
    ),
    Rule(
        "field_quotes",
        "quotation marks enclose a whole field",
        _COMPARE,
        Kind.RECORD,
        "quotation marks inside text",
    ),
    Rule(
        "record_length",
        f"a row has at most {LONGEST_RECORD} characters",
        _COMPARE,
        Kind.RECORD,
        "a quotation mark that is never closed",
    ),
    Rule(
        "names_an_aid",
        "a visit names an aid on the left or on the right",
        "fill in the side that was dried, or delete the row",
        Kind.RECORD,
    ),
    Rule(
        "sides_agree",
        "the column that names the side agrees with the sides that are filled",
        "name left, right or both, and empty the side that was not dried",
        Kind.RECORD,
    ),
    Rule(
        "site_is_folder",
        "site_id agrees with the folder the file lies in",
        "move the file to its site's folder, or correct site_id",
        Kind.FOLDER,
        "a file in another site's folder",
        column="site_id",
    ),
)
# Of all live rows together; judged in SQL.
OF_SETS = (
    Rule(
        "site_listed",
        "site_id is listed in sites",
        f"add the site to reference/sites; {COMES_BY_ITSELF}",
        Kind.SITE,
        "a site that is not listed",
        "reference/sites.csv: a line with the site; the rows then enter by themselves",
        column="site_id",
        tables=OF_A_SITE,
    ),
    Rule(
        "chamber_listed",
        "dryer_id is listed in dryers",
        f"add the chamber to reference/dryers; {COMES_BY_ITSELF}",
        Kind.CHAMBER,
        "a chamber that is not listed",
        "reference/dryers.csv: a line with site and chamber; the rows then enter by themselves",
        column="dryer_id",
        tables=("sessions", "chamber_runs", "dose_checks", "dryer_events"),
    ),
    Rule(
        "chamber_named_once",
        "dryer_id names one chamber of dryers, or site_id says whose it is",
        "add the column site_id to reference/dryer_events: two sites have a chamber of this name",
        Kind.CHAMBER,
        "a name that chambers of several sites share",
        "reference/dryer_events.csv: the column site_id, filled in on these lines",
        column="dryer_id",
        tables=("dryer_events",),
    ),
    Rule(
        "model_listed",
        "model_code is listed in device_models",
        f"add the model to reference/device_models; {COMES_BY_ITSELF}",
        Kind.MODEL,
        "a model that is not listed",
        "reference/device_models.csv: a line with the model; the rows then enter by themselves",
        column="model_code",
        tables=("sessions",),
    ),
    Rule(
        "receiver_listed",
        "receiver_code is listed in device_models",
        f"add the receiver to reference/device_models; {COMES_BY_ITSELF}",
        Kind.MODEL,
        "a receiver that is not listed",
        "reference/device_models.csv: a line with the receiver; the rows then enter by themselves",
        column="receiver_code",
        tables=("sessions",),
    ),
    Rule(
        "run_names_chamber",
        "a run names its chamber where the site has more than one or lists none",
        "list the chamber in reference/dryers; where there are several, name it in the log, or as a"
        " constant in mapping.toml",
        Kind.NO_CHAMBER,
        "a log of one of several chambers",
        column="dryer_id",
        tables=("chamber_runs",),
    ),
    Rule(
        "session_not_future",
        "a session is not in the future",
        "check the date; a right one enters by itself once its day has come",
        Kind.FUTURE,
        "a wrong date, or a clock that is wrong",
        column="local_date",
        tables=("sessions",),
    ),
    Rule(
        "date_not_future",
        "a date is not in the future",
        "check the date; a right one enters by itself once its day has come",
        Kind.FUTURE,
        "a wrong date, or a clock that is wrong",
        tables=WITH_A_DAY,
    ),
    Rule(
        "clinic_open",
        "a session falls while its clinic is open",
        "check the date, and the clinic's days in reference/sites",
        Kind.CLOSED,
        "a wrong date, or days of the clinic that are not up to date",
        column="local_date",
        tables=("sessions",),
    ),
    Rule(
        "one_run",
        "a record fits one run of the chamber's log",
        "name the session in record and log, correct the time, or narrow match_window_minutes",
        Kind.RUN,
        "two runs near one record",
        column="started_at",
        tables=("sessions",),
    ),
    Rule(
        "duplicate",
        "duplicate row",
        "nothing to do: the row is counted once",
        Kind.DUPLICATE,
        "the same row sent twice",
    ),
    Rule(
        "conflicting_duplicate",
        "conflicting duplicate row",
        "keep the right version of the two rows and export again",
        Kind.CONFLICT,
        "two versions of one row",
    ),
    Rule(
        "log_agrees",
        "a record agrees with the chamber's log",
        "correct the record, or the log; the log's value is used",
        Kind.AGREEMENT,
        "a record written by hand that differs from the log",
        tables=("sessions",),
    ),
    Rule(
        "session_agrees",
        "columns of a session agree on all its rows",
        "correct the rows of this session so that they name one value",
        Kind.AGREEMENT,
        "rows of one session that contradict each other",
        tables=("sessions",),
    ),
)
RULES: Mapping[str, Rule] = {rule.code: rule for rule in (*OF_COLUMNS, *OF_RECORDS, *OF_SETS)}
DUPLICATES = ("duplicate", "conflicting_duplicate")
