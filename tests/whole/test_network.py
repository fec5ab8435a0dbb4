"""A made network: any number of programmes, the same bytes for a seed, and all of it enters."""

import pytest

from pipeline import look, run
from seeds_demo.network import SPECIES, Size, main, make_network


def tree(root):
    """The bytes of every file by its path."""
    return {p.relative_to(root).as_posix(): p.read_bytes() for p in sorted(root.rglob("*")) if p.is_file()}


@pytest.fixture(scope="module")
def network(tmp_path_factory):
    """Two programmes of 10,000 events each."""
    root = tmp_path_factory.mktemp("network")
    make_network(root, 20_000, 2, seed=5)
    return root


def test_a_seed_makes_the_same_bytes_and_another_others(network, tmp_path):
    """The same seed gives the same files, another the same names with other counts; no programme is like another."""
    made = tree(network)
    make_network(tmp_path / "again", 20_000, 2, seed=5)
    assert tree(tmp_path / "again") == made
    make_network(tmp_path / "other", 20_000, 2, seed=9)
    other = tree(tmp_path / "other")
    assert other.keys() == made.keys() and all(other[n] != made[n] for n in made if n.endswith("survey.csv"))
    here, there = (tree(network / f"programme-000{n}") for n in (1, 2))
    assert here.keys() == there.keys() and here["inbox/club-01/survey.csv"] != there["inbox/club-01/survey.csv"]


def test_all_of_a_made_programme_enters(network):
    """About as many events as were asked for enter, none is held, none waits, and every site has its three answers and its logger's."""
    root = network / "programme-0002"
    took, _ = run.run_all(root)
    entered = sum(e.receipt.entered for e in took.entries if e.drop)
    assert 9_000 <= entered <= 11_000
    assert look.held(root) == [] and [r for r in look.standing(root) if r[1] == "waits"] == []
    told = {(f.indicator, f.of("site")) for f in look.published(root) if f.estimate.state == "estimated"}
    sites = {f"S{n:03}" for n in range(1, Size.of(10_000).sites + 1)}
    for indicator in ("density", "unit retention", "cash per hectare"):
        assert {site for name, site in told if name == indicator} >= sites, indicator
    assert any(f.of("species") == SPECIES for f in look.published(root))
    assert {f.of("site") for f in look.published(root) if f.indicator == "mean temperature"} >= sites


def test_sizes_that_cannot_be_made_are_refused(tmp_path, capsys):
    """A programme too small, and a folder that holds one, are refused with what is wanted; nothing is mixed."""
    assert main([str(tmp_path / "n"), "--events", "20000", "--programmes", "9"]) == 2
    assert "10,000 events or more" in capsys.readouterr().err
    assert main([str(tmp_path / "n"), "--events", "10000"]) == 0
    before = tree(tmp_path)
    assert main([str(tmp_path / "n"), "--events", "10000"]) == 2
    assert "already holds a programme" in capsys.readouterr().err and tree(tmp_path) == before
