"""What stays out of the commands that must answer at once."""

import json
import subprocess
import sys
from pathlib import Path

import duckdb
import pytest

from pipeline.store import ledger as ledgers
from pipeline.store.layout import Store
from schemas import macros
from schemas.dictionary import comments, tables, type_of
from schemas.exports.catalogue import columns_of
from tests.test_architecture import ROOT

HEAVY = ("pandera", "prefect", "distributed", "altair", "polars", "statsmodels", "pydantic")


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with every declared table, empty but for one run, and its ledger."""
    made = Store(tmp_path_factory.mktemp("store"))
    made.prepare()
    with duckdb.connect(str(made.warehouse), config={"threads": 1}) as con:
        for part in ("facts", "measures", "audit"):
            for model in tables(part):
                listed = ", ".join(f'"{s.name}" {type_of(s, part)}' for s in columns_of(model))
                con.execute(f"CREATE TABLE {model.Config.name} ({listed})")
                for statement in comments(model):
                    con.execute(statement)
        for statement in macros.statements(11):
            con.execute(statement)
        con.execute(
            "INSERT INTO refresh_run (run_id, sequence, started_at_utc, as_of, code_version,"
            " contract_version, settings_hash, rows, is_demo) VALUES ('000001-20260630T020000Z',"
            " 1, '2026-06-30 02:00:00+00', '2026-06-30', '0.1.0', '1', 'x', 0, false)"
        )
    made.warehouse.chmod(0o600)
    ledger = ledgers.Ledger(
        run_id="000001-20260630T020000Z", sequence=1, as_of="2026-06-30", contract_version="1"
    )
    ledgers.write(made, ledger)
    return made.folder


PROBE = """
import json, sys
from pipeline.commands.main import main
try:
    code = main(sys.argv[1:])
except SystemExit as ended:
    code = ended.code
print(json.dumps([code, sorted({name.split('.')[0] for name in sys.modules})]), file=sys.stderr)
"""


@pytest.mark.parametrize(
    ("arguments", "codes"),
    [
        ((), {2}),
        (("--help",), {0}),
        (("--version",), {0}),
        (("refresh", "--help"), {0}),
        (("query", "--help"), {0}),
        (("tables", "--help"), {0}),
        (("status", "--help"), {0}),
        (("check", "--help"), {0}),
        (("map", "--help"), {0}),
        (("query", "SELECT wilson_low(1, 29) AS low", "--store", "STORE"), {0}),
        (("query", "SELECT 1 AS one", "--store", "STORE", "--format", "json"), {0}),
        (("tables", "--store", "STORE"), {0}),
        (("tables", "rescue_rate", "--store", "STORE"), {0}),
        (("status", "--store", "STORE"), {0, 3}),
    ],
)
def test_quick_commands_import_nothing_heavy(
    arguments: tuple[str, ...], codes: set[int], store: Path
) -> None:
    given = [str(store) if word == "STORE" else word for word in arguments]
    done = subprocess.run(
        [sys.executable, "-c", PROBE, *given],
        capture_output=True, text=True, cwd=ROOT, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    code, modules = json.loads(done.stderr.splitlines()[-1])
    assert code in codes, done.stderr
    assert not set(HEAVY) & set(modules)


def test_the_probe_would_see_a_heavy_import() -> None:
    done = subprocess.run(
        [sys.executable, "-c", PROBE.replace("import json", "import polars, json", 1), "--help"],
        capture_output=True, text=True, cwd=ROOT, timeout=60, check=True,
    )  # fmt: skip
    assert "polars" in json.loads(done.stderr.splitlines()[-1])[1]


def test_a_night_that_infers_nothing_imports_nothing_for_it() -> None:
    probe = (
        "import sys, pipeline.flows, pipeline.checking.after_refresh\n"
        "late = ('scipy.stats', 'scipy.optimize', 'scipy.interpolate', 'statsmodels')\n"
        "print(*(name for name in late if name in sys.modules))\n"
        "from pipeline.statistics.claims import score_p_value\n"
        "print(round(float(score_p_value(0.5, 100, 0.4)), 4), 'scipy.stats' in sys.modules)"
    )
    said = subprocess.run(
        [sys.executable, "-c", probe], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.splitlines()
    # 2 P(Z > 0.1 / sqrt(0.4 * 0.6 / 100)), from a table of the normal distribution: z = 2.0412.
    assert said == ["", "0.0412 True"]
