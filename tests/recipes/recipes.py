"""The recipes of "How to add", each with an invented example that fits into the project as it is.

The examples are told to a copy of the project by `test_recipes.py`; nothing of them is in it.
"""

from tests.recipes.applied import Insert, Recipe

VISITS = "schemas/exports/visit_counts.py"
WEAK = '    weak_seen: int = column("Weak aids among them.", unit="aids", ge=0, le=1e6)\n'

COLUMN = Recipe(
    "a column",
    (
        Insert(VISITS, WEAK, '    loaners_given: int = column("Loaner aids given meanwhile.",'
               ' unit="aids", ge=0, le=1e6)\n'),
    ),
)  # fmt: skip
WORD = Recipe(
    "a word of a list",
    (
        Insert("schemas/vocabulary.py", "VISIT_REASON = Words({\n",
               '    "battery_change": ("change of battery", "The wearer came for a new cell."),\n'),
    ),
)  # fmt: skip
CONDITION = Recipe(
    "a condition of aids",
    (
        Insert("schemas/vocabulary.py", '    "weak": "Output that is clearly too low.",\n',
               '    "whistling": "Output of usual strength that whistles.",\n'),
        Insert("schemas/outcomes.py", 'TOLD = each_of("TOLD", CONDITION, {\n',
               '''    "whistling": Told(
        "F", "whistling aids",
        "It whistled when it arrived.",
        "It still whistles after drying.",
        "After drying it sounds, but whistles.",
    ),
'''),
        Insert("schemas/outcomes.py", "OUTCOMES = (\n",
               '    Outcome("whistling", "back_to_normal", "Whistling aids back to normal",'
               " is_headline=True),\n"),
    ),
)  # fmt: skip
CLIMATE = Recipe(
    "a climate group",
    (
        Insert("schemas/vocabulary.py", "CLIMATE_GROUP = Words({\n",
               '    "highland": "Cool all year round.",\n'),
        Insert("schemas/vocabulary.py", 'CLIMATE_GROUP.but(NO_CLIMATE), {\n',
               '    "highland": "H",\n'),
        Insert("pipeline/statistics/climate.py",
               '        return "ET" if temps.max() > 0 else "EF"\n',
               "    if temps.max() - temps.min() < 5:\n        return \"H\"\n"),
    ),
)  # fmt: skip
ROW_RULE = Recipe(
    "a row rule",
    (
        Insert(VISITS, 'return holds(data, pl.col("weak_seen") <= pl.col("aids_seen"))\n', '''
    @rule(
        "no more loaners are given than aids were seen",
        refuses=("loaners_given",),
        advice="count each loaner in the month it was given",
    )
    def loaners_among_seen(cls, data: pa.PolarsData) -> pl.LazyFrame:  # noqa: N805, D102
        return holds(data, pl.col("loaners_given") <= pl.col("aids_seen"))
'''),
    ),
)  # fmt: skip
SET_RULE = Recipe(
    "a set rule",
    (
        Insert("schemas/rules.py", "OF_SETS = (\n", '''    Rule(
        "site_was_open",
        "a month is not before the site opened",
        "check the month, or the day of opening in reference/sites",
        Kind.ROW,
        "a wrong day of opening",
        column="month",
        tables=("visit_counts",),
    ),
'''),
        Insert("pipeline/warehouse/rules.py", '    "visit_counts": (_SITE, _not_future("month")',
               ', "WHEN p.month < (SELECT s.opened_on FROM site AS s WHERE s.site_id = p.site_id)'
               " THEN 'site_was_open'\""),
    ),
)  # fmt: skip
MEASURE = Recipe(
    "a measure",
    files=(
        "schemas/measures/power_minutes.py",
        "pipeline/measures/chambers/power_minutes.sql",
        "pipeline/measures/chambers/power_minutes.py",
    ),
)  # fmt: skip
FIGURE = Recipe(
    "a figure",
    (
        Insert("reports/dashboards/chambers.py",
               "from reports.figures.height import height\n",
               "from reports.figures.power_minutes import power_minutes\n"),
        Insert("reports/dashboards/chambers.py", '"Use", "", (chamber_use,', " power_minutes,"),
    ),
    ("reports/figures/power_minutes.py",),
)  # fmt: skip
SHEET = Recipe(
    "a sheet",
    files=("reports/sheets/door.py", "reports/templates/door.html.j2"),
)  # fmt: skip
COMMAND = Recipe(
    "a command",
    (
        Insert("pipeline/commands/main.py", "COMMANDS = {\n",
               '    "door-sheet": "a sheet for the chamber\'s door, for printing",\n'),
    ),
    ("pipeline/commands/door_sheet.py",),
)  # fmt: skip
KEY = Recipe(
    "a key of the mapping",
    (
        Insert("pipeline/intake/mapping_keys.py", '    "empty_words": ("texts", ()),\n',
               '    "zero_words": ("texts", ()),\n'),
        Insert("pipeline/intake/mapping.py", "    empty_words: tuple[str, ...] = ()\n",
               "    zero_words: tuple[str, ...] = ()\n"),
        Insert("pipeline/intake/mapping.py",
               'empty_words=tuple(_folded(word) for word in raw.get("empty_words", ())),\n',
               '        zero_words=tuple(_folded(word) for word in raw.get("zero_words", ())),\n'),
        Insert("pipeline/intake/mapped.py",
               "cells = read_each(cells, given)", '''.with_columns(
        pl.when(pl.col(name).str.to_lowercase().is_in(["", *section.zero_words]))
        .then(pl.lit("0"))
        .otherwise(name)
        .alias(name)
        for name in names
    )'''),
        Insert("pipeline/intake/mapping_guide.py", "EXAMPLES: dict[str, Example] = {\n",
               '''    "zero_words": _sessions(
        "Words that mean 0.",
        'zero_words = ["none"]', _with("moisture_ul", "none"), ("moisture_ul", "0"),
    ),
'''),
    ),
)  # fmt: skip
ADVICE = Recipe(
    "advice",
    (
        Insert("pipeline/checking/word_advice.py", 'TRUTHS = ("true", "false")\n', '''

def of_missing(faults: tuple[Fault, ...], context: "Context") -> Said:
    """Advise on empty cells that must not be."""
    return Said(
        "a cell that was passed over", "Ask who was at the bench that day, and fill it in.",
        (), cells(faults, context, None), faults, False,
    )
'''),
        Insert("pipeline/checking/advice.py", "        Kind.WORD: word_advice.of_word,\n",
               "        Kind.MISSING: word_advice.of_missing,\n"),
    ),
)  # fmt: skip
RECIPES = (
    COLUMN, WORD, CONDITION, CLIMATE, ROW_RULE, SET_RULE, MEASURE, FIGURE, SHEET, COMMAND, KEY,
    ADVICE,
)  # fmt: skip
