"""The outside numbers of `tests/checks/comparison.toml`."""

import tomllib
from pathlib import Path

CHECKS = tomllib.loads((Path(__file__).parents[1] / "checks" / "comparison.toml").read_text())
