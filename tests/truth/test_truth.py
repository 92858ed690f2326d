"""The short form of the truth harness: what planted worlds must never be called, both ways."""

import tomllib

import pytest

from tests.truth import rates, record, runs
from tests.truth.made import draw
from tests.truth.worlds import BARRED, DESIGNS, KINDS, World

LINE = {"stopped", "equal sites", "chambers"}
BY_KIND = {design.kind: design for design in reversed(DESIGNS)}


def test_the_same_seed_draws_the_same_world_and_another_does_not():
    world = World(per_arm=50, weak=5, sites=2)
    one, again, other = (draw(world, seed).sessions for seed in (1, 1, 2))
    assert one.equals(again)
    assert not one.equals(other)


@pytest.mark.parametrize("kind", sorted(LINE))
def test_the_whole_line_says_what_the_facts_say(kind):
    design = BY_KIND[kind]
    facts, line = runs.from_facts(design, 1), runs.through_line(design, 1)
    assert facts.words == line.words
    assert facts.numbers
    assert runs.same(facts, line)


def test_two_runs_that_differ_are_told_apart():
    one = runs.Outcome({"drying": "helps"}, {"effect": 0.1}, {})
    assert runs.same(one, runs.Outcome({"drying": "helps"}, {"effect": 0.1 + 5e-6}, {}))
    assert not runs.same(one, runs.Outcome({"drying": "helps"}, {"effect": 0.1 + 2e-5}, {}))
    assert not runs.same(one, runs.Outcome({"drying": "may_harm"}, {"effect": 0.1}, {}))
    assert not runs.same(one, runs.Outcome({"drying": "helps"}, {}, {}))


@pytest.mark.parametrize(
    "design", [d for d in DESIGNS if d.kind in {"stopped", "missing"} and d.world.stopped > 0.02],
    ids=lambda design: design.name,
)  # fmt: skip
def test_aids_that_stop_are_never_called_a_benefit_or_no_effect(design):
    words = {runs.from_facts(design, seed).words["drying"] for seed in range(2)}
    assert not words & set(BARRED)


def test_every_kind_is_promised_something_and_run_often_enough():
    for kind in KINDS:
        own = [design for design in DESIGNS if design.kind == kind]
        assert sum(design.seeds for design in own) >= 400
        assert all(design.promises for design in own)
    through = runs.line_seeds_of(DESIGNS)
    for kind in KINDS:
        assert sum(through[d.name] for d in DESIGNS if d.kind == kind) >= runs.THROUGH_LINE


def test_the_record_is_what_the_code_gives():
    assert record.differing() == []


def test_a_kind_without_a_record_and_a_changed_number_are_told(tmp_path, monkeypatch):
    text = record.FILE.read_text(encoding="utf-8")
    file = tmp_path / "record.toml"
    kept = text.replace('kind = "chambers"', 'kind = "another"')
    file.write_text(kept.replace('"drying effect"', '"drying effects"'), encoding="utf-8")
    monkeypatch.setattr(record, "FILE", file)
    assert record.differing(["chambers"]) == ["chambers: no world recorded"]


def test_recording_one_kind_leaves_the_others(tmp_path, monkeypatch):
    file = tmp_path / "record.toml"
    file.write_text(record.FILE.read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(record, "FILE", file)
    before = tomllib.loads(file.read_text(encoding="utf-8"))
    design = BY_KIND["chambers"]
    record.write([runs.run(design, range(2))])
    after = tomllib.loads(file.read_text(encoding="utf-8"))
    others = [row for row in before["result"] if row["kind"] != "chambers"]
    assert [row for row in after["result"] if row["kind"] != "chambers"] == others
    worlds = {row["name"]: row["worlds"] for row in after["kind"]}
    assert worlds["chambers"] == 2
    assert after["replicates"] == sum(worlds.values())
    assert record.differing(["chambers"]) == []


def test_the_rates_of_the_sample_data_are_counted_over_seeds_and_recorded(tmp_path, monkeypatch):
    inside = rates.held(3)
    assert set(inside) == set(rates.truths())
    assert sum(inside.values()) >= 6
    kept = tomllib.loads(rates.FILE.read_text(encoding="utf-8"))
    assert kept["replicates"] >= 50
    assert all(float(row["found"].split()[0]) >= 0.9 for row in kept["result"])
    monkeypatch.setattr(rates, "FILE", tmp_path / "rates.toml")
    rates.write(inside, 3)
    again = tomllib.loads(rates.FILE.read_text(encoding="utf-8"))
    assert [row["quantity"] for row in again["result"]] == [
        row["quantity"] for row in kept["result"]
    ]
