"""What a title of a known rule must say, worked out again from the rows of its figure.

Each claim takes the rows as the page's CSV gives them and the title; it returns what the title
lacks or denies, an empty list where it is true.
"""

THIN = "\u202f"
MATRIX_STANDS = {
    "Dead aids recovered": ("more dead aids recover", "fewer dead aids recover"),
    "Weak aids recovered": ("more weak aids recover", "fewer weak aids recover"),
    "Working aids harmed": ("more working aids harmed", "fewer working aids harmed"),
    "Not assessed": ("more aids not assessed", "fewer aids not assessed"),
}


def percent(share):
    return f"{share * 100:.0f}{THIN}%"


def lacking(title, *parts):
    return [part for part in parts if part not in title]


def compared(rows, title):
    """Sites above and below, each named on its side or counted."""
    sides = {side: [row["label"].lstrip("'") for row in rows
                    if row["verdict_words"] == f"{side} than expected"]
             for side in ("higher", "lower")}  # fmt: skip
    judged = [row for row in rows if row["ratio" if "ratio" in row else "excess"] is not None]
    parts = [f"of {len(judged)} site"]
    for side, names in sides.items():
        if not names and side in title:
            parts.append(f"(nothing is {side})")
        if not names:
            continue
        at = title.find(side)
        other = title.find("lower") if side == "higher" else len(title)
        own = title[at : other if other > at else len(title)]
        if not (f"{len(names)} {side}" in title or all(name in own for name in names)):
            parts.append(f"{side} at {' and '.join(names)}")
    return lacking(title, *parts)


def compared_none(rows, title):
    odd = [row["label"] for row in rows if row["verdict_words"] in
           ("higher than expected", "lower than expected")]  # fmt: skip
    return [f"(it denies {name})" for name in odd]


def dead_dried(rows, title):
    sound = [row for row in rows if row["dried_share"] is not None]
    share = sum(row["dead_dried"] for row in sound) / sum(row["dead_seen"] for row in sound)
    return lacking(title, percent(share), f"{len(sound)} site")


def use_quiet(rows, title):
    known = [row["usual_per_open_day"] for row in rows if row["usual_per_open_day"] is not None]
    return lacking(title, f"{sum(v < 1 for v in known)} of {len(known)} chambers")


def use_all(rows, title):
    known = [row["usual_per_open_day"] for row in rows if row["usual_per_open_day"] is not None]
    return lacking(title, f"All {len(known)} chambers") + ["(one is quiet)"] * any(
        v < 1 for v in known
    )


def fates(rows, title):
    whole = {row["state_words"]: int(row["of_100"]) for row in rows}
    return lacking(title, f"{whole['work after cleaning']} work after cleaning",
                   f"{whole['work after drying']} more after drying")  # fmt: skip


def ladder(rows, title):
    own = {row["label"]: row["share"] for row in rows
           if row["site"] == "every site" and row["condition_words"] == "Dead"}  # fmt: skip
    return lacking(title, f"{percent(own['works after cleaning'])} worked after cleaning",
                   f"{percent(own['works after drying'])} more after drying")  # fmt: skip


def not_assessed(rows, title):
    widest = max(row["rate_if_missing_rescued"] - row["rate_if_missing_failed"] for row in rows
                 if row["rate_if_missing_failed"] is not None)  # fmt: skip
    return lacking(title, f"by up to {widest * 100:.0f} points")


def spread(rows, title):
    """The best and the worst of the groups that are not few, apart by their intervals."""
    firm = [row for row in rows if row.get("rate") is not None and row["n"] >= 30]
    best = {percent(row["rate"]) for row in firm}
    named = [part for part in best if part in title]
    return [] if len(named) >= 2 else ["two rates of its rows"]


def trend(rows, title):
    """A title may not deny a signal that is drawn."""
    signals = {row["panel"] for row in rows if row["signal"]}
    denies = any(word in title for word in ("nothing", "no signal", "None of"))
    return ["(it denies a drawn signal)"] if denies and signals else []


def matrix(rows, title):
    """Each comparison that stands out is named with its site, or all are counted."""
    apart = [(row["site"].lstrip("'"), MATRIX_STANDS[row["question"]][row["word"] == "lower"])
             for row in rows if row["question"] in MATRIX_STANDS
             and row["word"] in ("higher", "lower")]  # fmt: skip
    judged = [row for row in rows if row["question"] in MATRIX_STANDS and row["state"] == "value"]
    if "comparisons stand out" in title:
        return lacking(title, f"{len(apart)} of {len(judged)} comparisons")
    return [part for site, way in apart for part in lacking(title, site, way)]


CLAIMS = {
    "compared.some": compared, "compared.none": compared_none, "dead_dried.share": dead_dried,
    "use.quiet": use_quiet, "use.all": use_all, "fates.works": fates, "ladder.dead": ladder,
    "range.widest": not_assessed, "spread.apart": spread, "matrix.some": matrix,
    "matrix.none": matrix,
}  # fmt: skip
