"""What a title of a known rule must say, worked out again from the rows of its figure.

Each claim takes the rows as the page's CSV gives them and the title; it returns what the title
lacks or denies, an empty list where it is true.
"""

import re

from reports.figures.calendar_strip import MOST_SITES
from tests.reports.title_figures import by_climate, half_tolerance, look_up, next_problem, records
from tests.reports.title_said import THIN, lacking, percent

MATRIX_STANDS = {
    "Dead aids sound again": ("more dead aids sound again", "fewer dead aids sound again"),
    "Weak aids back to normal": ("more weak aids back to normal", "fewer weak aids back to normal"),
    "Working aids harmed": ("more working aids harmed", "fewer working aids harmed"),
    "Not assessed": ("more aids not assessed", "fewer aids not assessed"),
}


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
    return lacking(title, "Of 100 dead aids treated",
                   f"{whole['work after cleaning']} work after cleaning",
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
    title = title.replace(THIN, "")
    if "comparisons stand out" in title:
        return lacking(title, f"{len(apart)} of {len(judged)} comparisons")
    return [part for site, way in apart for part in lacking(title, site, way)]


def numbers(title):
    """Return the numbers of a title as printed, thousands without their space."""
    return set(re.findall(r"\d+(?:\.\d+)?", re.sub(rf"(?<=\d){THIN}(?=\d)", "", title)))


def a_row(*columns, scale=100, digits=0, where=lambda row: True):
    """Claim that the numbers of one row stand in the title, as printed there."""

    def claim(rows, title):
        said = numbers(title)
        for row in filter(where, rows):
            values = [row[name] for name in columns]
            if None in values:
                continue
            # Small percentages are printed with a digit more.
            printed = [{f"{abs(scale * v):.{d}f}" for d in (0, digits)} for v in values]
            if all(said & either for either in printed):
                return []
        return [f"a row's {columns}"]

    return claim


def every(unit, *columns, scale=100):
    """Claim that every number with the unit stands in a row, under one of the columns."""

    def claim(rows, title):
        plain = re.sub(rf"{THIN}|\u00a0| ", "", title)
        held = {
            f"{abs(scale * row[name]):.{digits}f}"
            for row in rows for name in columns if isinstance(row.get(name), float)
            for digits in (0, 1)
        }  # fmt: skip
        said = re.findall(rf"(\d+(?:\.\d+)?)(?={unit})", plain)
        return [f"{number} {unit}" for number in said if number not in held]

    return claim


def dry(rows, title):
    """Each length and share named is a row's, and no shorter length of it dries nine tenths."""
    wrong = lacking(title, "dry 9 in 10 loads")
    told = {(f"{row['minutes']:.0f}", percent(row["share_dry"])): row for row in rows
            if row["share_dry"] is not None and (row["low"] or 0) >= 0.9}  # fmt: skip
    pairs = re.findall(r"(\d+) \((\d+\u202f%)\)", title)
    for pair in pairs:
        shorter = [row for row in rows if pair in told and row["low"] is not None
                   and row["load_words"] == told[pair]["load_words"]
                   and row["programme_words"] == told[pair]["programme_words"]
                   and row["minutes"] < told[pair]["minutes"] and row["low"] >= 0.9]  # fmt: skip
        if pair not in told or shorter:
            wrong.append(f"the least length of {pair}")
    return wrong if pairs else ["a length and its share"]


def counted(of, wanted, each=None):
    """Claim "N of M": rows, or things named by a column, that are as wanted."""

    def claim(rows, title):
        own = [row for row in rows if of(row)]
        if each is None:
            n, m = sum(map(wanted, own)), len(own)
        else:
            n = len({row[each] for row in own if wanted(row)})
            m = len({row[each] for row in own})
        return lacking(title.replace(THIN, ""), f"{n} of {m} ")

    return claim


def extremes(rows, title):
    """The lowest and the highest rate of sites with 30 aids or 10 either way, and how many."""
    rates = [row["rate"] for row in rows if row["rate"] is not None and row["patients"] >= 20
             and (row["n"] >= 30 or 10 <= row["rescued"] <= row["n"] - 10)]  # fmt: skip
    return lacking(title, f"{min(rates) * 100:.0f} to {percent(max(rates))}", f"{len(rates)} site")


def alike(rows, title):
    odd = [row["label"] for row in rows if row["standardised_difference"] is not None
           and abs(row["standardised_difference"]) > 0.1]  # fmt: skip
    return [f"(it denies {name})" for name in odd]


def most_water(rows, title):
    """The group named first holds the highest median of its panel, that named last the lowest."""
    most, _, least = title.rpartition("; ")
    panels = {row.get("panel") for row in rows}
    own = [
        row
        for row in rows
        if row["median_ul"] is not None
        and (len(panels) == 1 or title.lower().startswith(str(row["panel"]).lower()))
    ]
    firm = [row for row in own if row["n"] is None or row["n"] >= 30]
    high, low = (f(row["median_ul"] for row in firm) for f in (max, min))
    return [*lacking(most, f"{high:.1f}"), *lacking(least, f"{low:.1f}")]


def signals(rows, title):
    """How many series signal, and it may not be denied that one does."""
    by = {(row["panel"],) if "month_words" in row else (row["panel"], row["label"]) for row in rows}
    if "month_words" not in rows[0]:
        return []  # the table lists those that signal alone
    n = len({row["panel"] for row in rows if row["signal"]})
    return lacking(title, f"{n} of {len(by)} series")


def not_apart(low, high):
    """Claim that no two groups of a panel are clearly apart."""

    def claim(rows, title):
        own = [
            row
            for row in rows
            if row.get(low) is not None
            and row["n"] >= 30
            and "dead" in str(row.get("panel", "dead")).lower()
            and "unknown" not in row["label"]
            and "not recorded" not in row["label"]
        ]
        return [f"(it denies {a['label']} and {b['label']})" for a in own for b in own
                if a[low] > b[high]][:1]  # fmt: skip

    return claim


def named(column, word):
    """Claim that every row with the word is named, or that they are counted."""

    def claim(rows, title):
        odd = [row["label"].lstrip("'") for row in rows if row[column] == word]
        return [] if str(len(odd)) in numbers(title) else lacking(title, *odd)

    return claim


def contrast(rows, title):
    """The widest contrasts either way are those named."""
    firm = [row for row in rows if row["verdict_words"] in ("higher", "lower")]
    high, low = (f(firm, key=lambda row: row["cliffs_delta"])["label"] for f in (max, min))
    return lacking(title, high, low)


def accepted(rows, title):
    share = sum(row["accepted"] for row in rows) / sum(row["rows_read"] for row in rows)
    return lacking(title, f"{share * 100:.1f}")


def spans_one(rows, title):
    known = [row for row in rows if row["ratio_low"] is not None]
    return [
        f"(it denies {row['label']})"
        for row in known
        if not row["ratio_low"] <= 1 <= row["ratio_high"]
    ]


def beyond(row):
    rate = row["adjusted_rate"]
    return not row["funnel_low_998"] <= rate <= row["funnel_high_998"]


RATE = a_row("rate", "adjusted_low", "adjusted_high")


def readings(rows, title):
    dosed = [row for row in rows if row["dose_ul"] and row["tolerance_ul"] is not None]
    of = len({row["label"] for row in dosed})
    out = {row["label"] for row in dosed
           if abs(row["reading_ul"] - row["dose_ul"]) > row["tolerance_ul"] + 1e-6}  # fmt: skip
    if not out:
        return lacking(title, "every dose is within tolerance", f"{of} chamber")
    return lacking(title, f"{len(out)} of {of} chamber")


def calendar_gaps(rows, title):
    gaps = {row["label"] for row in rows if row["state_words"] != "complete"}
    if len(gaps) < MOST_SITES:
        return lacking(title, f"{len(gaps)} of ")
    # Of very many sites the table holds those with most gaps alone.
    said = re.match(r"(\d+) of ", title.replace(THIN, ""))
    return [] if said and int(said.group(1)) >= len(gaps) else [f"{len(gaps)} sites or more"]


def site_signals(rows, title):
    return lacking(title, f"Signals in {sum(row['signals'] > 0 for row in rows)} of ")


def matrix_first(rows, title):
    """The site named is one of the matrix; one that harms leads before any that does not."""
    named = title.removeprefix("Look first at ").partition(": ")[0]
    harmed = [row["site"].lstrip("'") for row in rows
              if row["question"] == "Working aids harmed" and row["word"] == "higher"]  # fmt: skip
    known = harmed or [row["site"].lstrip("'") for row in rows]
    is_known = any(name.startswith(named.rstrip("…")) for name in known)
    return [] if is_known else [f"one of {known}"]


def dead_rate(rows, title):
    said = title.replace(THIN, "")
    told = [row for row in rows if row["rate"] is not None and f"Of {row['n']:.0f} " in said]
    return RATE(told, title) if told else ["a row's count"]


CLAIMS = {
    "readings.outside": readings,
    "readings.within": readings,
    "calendar.gaps": calendar_gaps,
    "sites.maybe": site_signals,
    "after.dead": next_problem, "height.some": half_tolerance,
    "compared.some": compared, "compared.none": compared_none, "dead_dried.share": dead_dried,
    "use.quiet": use_quiet, "use.all": use_all, "fates.works": fates, "ladder.dead": ladder,
    "range.widest": not_assessed, "spread.apart": spread, "matrix.some": matrix,
    "matrix.none": matrix, "matrix.first": matrix_first, "dead.rate": dead_rate,
    "cycles.second": RATE,
    "below.share": a_row("share_below_detection", "share_below_low", "share_below_high", digits=1),
    "agreement.all": every("%", "share_agree", "agree_low", "agree_high"),
    "sites.range": extremes, "baseline.alike": alike, "moisture.apart": most_water,
    "look_up.range": look_up, "centiles.climates": by_climate,
    "centiles.tenth": a_row("p90_ul", scale=1, digits=1), "account.accepted": accepted,
    "improved.above_noise": every("%", "rate"),
    **{
        f"routine.{rule}": a_row("effect", "effect_low", "effect_high", digits=1)
        for rule in ("helps.net_worthwhile", "helps_little.net_below_worthwhile",
                     "no_effect_shown.within_worthwhile")
    },
    "arms.more": every("%", "share"),
    "spread.not_apart": not_apart("adjusted_low", "adjusted_high"),
    "trend.maybe": signals, "trend.some": signals, "trend.signals": signals,
    "repeat.gain": a_row("change_needed", scale=1, digits=1),
    "boiling.often": named("pump_words", "outside"), "drift.some": named("drift_words", "outside"),
    "contrast.apart": contrast, "carry.none": spans_one,
    "gain.apart": every("µL", "median_gain_ul", scale=1),
    "delay.apart": every("%", "share"),
    "dry.nine_tenths": dry,
    "standing.some": counted(lambda row: True, lambda row: row["standing_words"] == "in tolerance"),
    "funnel.some": counted(lambda row: row["funnel_low_998"] is not None, beyond),
    "records.poor": records, "records.gaps": records,
    "beside.poor": counted(lambda row: True, lambda row: row["records_words"] != "can be compared"),
}  # fmt: skip
