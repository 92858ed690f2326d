"""The keys that a section of a mapping may hold; `docs/mapping.md` is written from them."""

DATE_ORDERS = ("dmy", "mdy", "ymd")
SERIALS = ("1900", "1904")
EXPORT_KINDS = ("period", "cumulative", "rolling")
REPEATED, SKIPPED = ("first", "second"), ("forward",)
MARKS = (".", ",", "'", "’", " ", "\u00a0", "\u202f")
# Key: kind of value, and words allowed where they are few.
KEYS: dict[str, tuple[str, tuple[str, ...]]] = {
    "table": ("text", ()),
    "files": ("texts", ()),
    "export": ("text", EXPORT_KINDS),
    "delimiter": ("text", ()),
    "encoding": ("text", ()),
    "skip_lines": ("count", ()),
    "sheet": ("text", ()),
    "decimal_comma": ("flag", ()),
    "thousands_mark": ("text", MARKS),
    "header_rows": ("count", ()),
    "date_order": ("text", DATE_ORDERS),
    "serial_dates": ("text", SERIALS),
    "century": ("count", ()),
    "zone": ("text", ()),
    "repeated_hour": ("text", REPEATED),
    "skipped_hour": ("text", SKIPPED),
    "clock_offset_minutes": ("number", ()),
    "match_window_minutes": ("number", ()),
    "barometer_kpa": ("number", ()),
    "barometer_kpa_column": ("text", ()),
    "below_detection": ("texts", ()),
    "empty_words": ("texts", ()),
    "columns": ("names", ()),
    "left": ("names", ()),
    "right": ("names", ()),
    "values": ("words", ()),
    "units": ("table", ()),
    "constants": ("table", ()),
    "separators": ("table", ()),
}
KIND_WORDS = {
    "text": "a text in quotation marks",
    "texts": 'a list of texts, such as ["LOW", "<0.5"]',
    "count": "a whole number, 0 or more",
    "number": "a number",
    "flag": "true or false",
    "names": 'a table of columns, such as condition_before = "Zustand"',
    "words": 'a table of words for each column, such as "defekt" = "dead"',
    "table": 'a table of texts, such as chamber_temp_max_c = "degF"',
}
