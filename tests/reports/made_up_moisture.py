"""Made-up frames of moisture, in the shape of the warehouse's tables."""

import polars as pl


def moisture_row(grouping, groups, n, median, aids=1):
    """One row of moisture_distribution, log-normal in shape, limits at 0.5 µL."""
    spread = {"p10": 0.3, "p25": 0.55, "median": 1.0, "p75": 1.9, "p90": 3.4}
    row = {}
    for name, factor in spread.items():
        value = round(median * factor, 4)
        is_value = value > 0.5
        row |= {
            f"{name}_ul": value if is_value else None,
            f"{name}_state": "value" if is_value else "below_limit",
            f"{name}_bound_low_ul": None if is_value else 0.0,
            f"{name}_bound_high_ul": None if is_value else 0.5,
        }
    wide = 1 + 2 / n**0.5
    below = round(n * min(0.9, 0.35 / max(median, 0.4)))
    padded = [*groups, None, None, None][:3]
    return {
        "grouping": grouping, "group_1": padded[0], "group_2": padded[1], "group_3": padded[2],
        "aids_in_chamber": aids, "basis": "corrected", "n": n, "wearers": round(0.7 * n),
        "below_detection": below, "share_below_detection": below / n,
        "share_below_low": below / n * 0.9, "share_below_high": min(1.0, below / n * 1.1), **row,
        "median_low_ul": row["median_ul"] and row["median_ul"] / wide,
        "median_high_ul": row["median_ul"] and row["median_ul"] * wide,
        "median_line_se_ul": row["median_ul"] and 0.02,
        "mean_normal_dew_point_c": 11.4 if "climate not given" not in groups else None,
        "lowest_limit_ul": 0.5, "left_out_uncalibrated": round(n * 0.1), "left_out_incomplete": 2,
        "left_out_no_limit": 1,
    }  # fmt: skip


def between(row, name, low, high):
    """The row with a quantile that is known between two bounds only."""
    return row | {f"{name}_ul": None, f"{name}_state": "not_estimable",
                  f"{name}_bound_low_ul": low, f"{name}_bound_high_ul": high}  # fmt: skip


def moisture_distribution():
    """Loads overall, by style, by climate and season, and by all three."""
    rows = [moisture_row("all", (), 5200, 2.4), moisture_row("all", (), 2100, 2.2, aids=2)]
    styles = {"bte": 1.9, "ric": 2.3, "ite": 2.9, "cic": 3.4}
    climates = {"tropical": (("wet", 4.1), ("dry", 2.6)),
                "temperate": (("winter", 1.5), ("spring", 1.9), ("summer", 2.8), ("autumn", 2.1)),
                "arid": (("winter", 0.45), ("summer", 1.4))}  # fmt: skip
    for style, median in styles.items():
        rows.append(moisture_row("device_style", (style,), 1300, median))
    for home, median in (("none", 2.4), ("desiccant", 2.1), ("electric", 2.2), (None, 2.5)):
        rows.append(moisture_row("home_dryer", (home,), 700, median))
    rows[2] = between(rows[2], "p10", 0.3, 0.9)
    for exposure, median in (("immersion", 9.0), ("splash", 4.0), ("none_known", 1.7)):
        rows.append(moisture_row("exposure", (exposure,), 800, median))
    for climate, seasons in climates.items():
        for season, median in seasons:
            rows.append(moisture_row("season+climate_group", (season, climate), 640, median))
            for style, factor in styles.items():
                cell = (season, climate, style)
                rows.append(
                    moisture_row(
                        "season+climate_group+device_style", cell, 90, median * factor / 2.4
                    )
                )
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.col("aids_in_chamber").cast(pl.Int64), pl.col("^.*_ul$").cast(pl.Float64)
    )


def moisture_contrast():
    """Some groups wetter, some drier, one not apart, one climate of too few sites."""
    said = (
        ("visit_reason", "water_incident", 0.7, 0.02), ("visit_reason", "follow_up", -0.8, 0.01),
        ("visit_reason", "clean_and_check", 0.01, 0.02), ("device_style", "ric", -0.02, 0.03),
        ("device_style", "cic", -0.31, 0.03), ("season", "winter", -0.17, 0.02),
        ("season", "summer", 0.1, 0.02), ("exposure", "immersion", 0.53, 0.03),
        ("days_since_dry_band", "under_30_days", -0.65, 0.02),
        ("home_dryer", "none", 0.08, 0.03), ("home_dryer", "desiccant", -0.1, 0.04),
        ("home_dryer", "electric", -0.05, 0.06),
    )  # fmt: skip
    rows = [contrast_row(grouping, group, delta, wide) for grouping, group, delta, wide in said]
    few = contrast_row("climate_group", "arid", -0.3, 0.0) | {
        "delta_low": None, "delta_high": None, "peto_peto_z": None, "p_value": None,
        "p_adjusted": None, "verdict": "cannot_tell", "untested_because": "too_few_sites",
        "cluster_kind": "site",
    }  # fmt: skip
    return pl.DataFrame([*rows, few], infer_schema_length=None)


def contrast_row(grouping, group, delta, wide):
    """One row of moisture_contrast; its verdict follows from its interval."""
    apart = abs(delta) > wide
    return {
        "grouping": grouping, "group_1": group,
        "against": "none" if grouping == "home_dryer" and group != "none" else None,
        "cluster_kind": "wearer", "n": 900, "other_n": 6000,
        "wearers": 500, "other_wearers": 3000, "sites": 12, "other_sites": 12,
        "highest_limit_ul": 0.5, "share_at_most_limit": 0.1, "other_share_at_most_limit": 0.15,
        "cliffs_delta": delta, "delta_low": delta - wide, "delta_high": delta + wide,
        "peto_peto_z": 2 * delta / max(wide, 0.01), "p_value": 0.001 if apart else 0.4,
        "p_adjusted": 0.002 if apart else 0.4,
        "verdict": ("higher" if delta > 0 else "lower") if apart else "not_apart",
        "untested_because": None,
    }  # fmt: skip


def moisture_centile():
    """Centiles of three styles, over all gaps and in one band, and one cell too small."""
    rows = []
    cells = (("bte", None, 400, 2.4), ("ric", None, 160, 1.9), ("cic", None, 60, 1.1),
             ("bte", "30_89_days", 90, 2.1), ("cic", "30_89_days", 12, 1.0))  # fmt: skip
    factors = {3: 0.2, 10: 0.35, 25: 0.6, 50: 1.0, 75: 1.7, 90: 2.8, 97: 4.4}
    for style, band, n, median in cells:
        for centile, factor in factors.items():
            value = median * factor
            fewest = 20 if 25 <= centile <= 75 else 45 if 10 <= centile <= 90 else 150
            why = "too_few_wearers" if n < fewest else "below_detection" if value < 0.5 else None
            shown = None if why else value
            rows.append({
                "device_style": style, "days_since_dry_band": band, "climate_group": None,
                "season": None, "centile": centile, "moisture_per_aid_ul": shown,
                "moisture_per_aid_state": {None: "value", "below_detection": "below_limit"}.get(
                    why, "not_estimable"),
                "moisture_per_aid_bound_low_ul": 0.0 if why == "below_detection" else None,
                "moisture_per_aid_bound_high_ul": 0.5 if why == "below_detection" else None,
                "low_ul": shown and shown * 0.9, "high_ul": shown and shown * 1.15, "n": n,
                "wearers": n, "below_detection": n // 8, "highest_limit_ul": 0.5, "withheld": why,
                "left_out_uncalibrated": 12, "left_out_incomplete": 0, "left_out_no_limit": 3,
            })  # fmt: skip
    return pl.DataFrame(rows, infer_schema_length=None).with_columns(
        pl.col("climate_group", "season").cast(pl.String)
    )
