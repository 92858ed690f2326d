"""The peer: what an analyst would write with pandas and statsmodels for the same files."""

from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm
from statsmodels.stats.proportion import proportion_confint

CONDITIONS = ("dead", "weak", "other_fault", "normal")
WORDS = {
    "condition_before": CONDITIONS,
    "condition_after": CONDITIONS,
    "device_style": (
        "bte", "bte_slim_tube", "ric", "ite", "itc", "cic", "iic", "body_worn", "cros_transmitter",
        "bone_conduction", "implant_sound_processor", "other", "unknown",
    ),
    "exposure": ("immersion", "splash", "perspiration", "none_known", "unknown"),
    "ear": ("left", "right", "unknown"),
    "treatment": ("dried", "cleaned_only"),
}  # fmt: skip
RANGES = {
    "moisture_ul": (0, np.inf),
    "cycle_minutes": (1, 1440),
    "device_age_months": (0, 600),
    "hours_since_exposure": (0, 10_000),
}
TEXTS = ("device_id", "patient_id", "dryer_id", "started_at")
KEY = ["site_id", "device_id", "started_at", "ear"]


def script(files: list[Path], target: Path) -> int:
    """Read, check, count and model session rows; returns the rows read."""
    wanted = {*WORDS, *RANGES, *TEXTS}
    data = pd.concat(
        [
            pd.read_csv(file, usecols=lambda name: name in wanted, dtype=str).assign(
                site_id=file.parent.name
            )
            for file in files
        ],
        ignore_index=True,
    ).reindex(columns=[*wanted, "site_id"])
    read = len(data)
    data = _checked(data)
    data["month"] = data["started_at"].dt.strftime("%Y-%m")
    data["rescued"] = data["condition_after"].eq("normal").astype(float)
    tables = {
        "rates": _rates(data, ["site_id", "condition_before"]),
        "trend": _rates(data, ["site_id", "month"]),
        "styles": _rates(data, ["device_style", "condition_before"]),
        "moisture": data.groupby(["device_style", "exposure"])["moisture_ul"].quantile(
            [0.1, 0.25, 0.5, 0.75, 0.9]
        ),
        "model": _model(data),
    }
    for name, table in tables.items():
        table.to_csv(target.with_name(f"{target.name}-{name}.csv"))
    return read


def _checked(data: pd.DataFrame) -> pd.DataFrame:
    for name, words in WORDS.items():
        data[name] = data[name].where(data[name].isin(words))
    for name, (low, high) in RANGES.items():
        value = pd.to_numeric(data[name], errors="coerce")
        data[name] = value.where(value.between(low, high))
    data["started_at"] = pd.to_datetime(data["started_at"], errors="coerce", format="ISO8601")
    data = data.dropna(subset=["condition_before", "device_style", "started_at"])
    known = data["device_id"].notna()
    return data[~(known & data.duplicated(KEY))].dropna(subset=["condition_after"]).copy()


def _rates(data: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    rates = data.groupby(by)["rescued"].agg(["sum", "count"])
    low, high = proportion_confint(rates["sum"], rates["count"], method="wilson")
    return rates.assign(low=low, high=high)


def _model(data: pd.DataFrame) -> pd.DataFrame:
    dead = data[data["condition_before"] == "dead"]
    terms = pd.get_dummies(
        dead[["exposure", "device_style"]], drop_first=True, dummy_na=True, dtype=float
    )
    terms = sm.add_constant(terms.loc[:, terms.nunique() > 1])
    wearer = pd.factorize(dead["site_id"] + dead["patient_id"].fillna("?"))[0]
    fit = sm.GLM(dead["rescued"], terms, family=sm.families.Binomial()).fit(
        cov_type="cluster", cov_kwds={"groups": wearer}
    )
    return pd.DataFrame({"estimate": fit.params, "se": fit.bse})
