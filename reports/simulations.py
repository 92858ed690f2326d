"""Simulations with a known truth, as they were last run: what the methods page shows of them."""

import tomllib
from dataclasses import dataclass
from importlib.resources import files


@dataclass(frozen=True)
class Simulation:
    """One simulation as recorded in `reports/simulated/<id>.toml`.

    Attributes:
        id: file name without its ending, also the id on the page.
        question: what it was run to find out.
        design: how the made data arose, in one or two sentences.
        replicates: data sets a line of the results.
        seed: seed of the random numbers.
        command: how to run it again.
        results: (quantity, found, wanted) as text.
    """

    id: str
    question: str
    design: str
    replicates: int
    seed: int
    command: str
    results: tuple[tuple[str, str, str], ...]


def recorded() -> tuple[Simulation, ...]:
    """Read every recorded simulation, in the order of their ids."""
    folder = files("reports") / "simulated"
    found = sorted(
        (item for item in folder.iterdir() if item.name.endswith(".toml")),
        key=lambda item: item.name,
    )
    return tuple(_read(item.name, item.read_text(encoding="utf-8")) for item in found)


def _read(name: str, text: str) -> Simulation:
    given = tomllib.loads(text)
    return Simulation(
        id=name.removesuffix(".toml"),
        question=given["question"],
        design=given["design"],
        replicates=given["replicates"],
        seed=given["seed"],
        command=given["command"],
        results=tuple((r["quantity"], r["found"], r["wanted"]) for r in given["result"]),
    )
