"""The recipes for running every night, as far as a test machine can try them."""

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
import yaml

from pipeline.cli import main
from pipeline.errors import BadUsage
from pipeline.recipes import FILES, recipe, write
from pipeline.starter import start


@pytest.fixture(scope="module")
def root(tmp_path_factory):
    """A programme that runs at a quarter past two in Oslo."""
    folder = tmp_path_factory.mktemp("recipes") / "p"
    start(folder)
    rules = (folder / "programme.toml").read_text().replace('"UTC"', '"Europe/Oslo"')
    (folder / "programme.toml").write_text(rules + '\n[night]\nat = "02:15"\n')
    return folder


@pytest.mark.parametrize("which", FILES)
def test_a_recipe_is_filled_in_and_holds_no_secret(root, which, capsys):
    """Every file of a recipe is printed, with nothing left to fill in but what is commented out."""
    assert main(["recipe", which, "-p", str(root)]) == 0
    told = capsys.readouterr().out
    for name, text in recipe(root, which).items():
        assert f"# --- {name} ---" in told and not re.search(r"\$\{|\$(programme|python|time|hour|zone)", text)
        assert not re.search(r"^[^#\n]*(PASSWORD|WEBHOOK)=", text, re.MULTILINE)


def test_cron_line_runs(root):
    """The cron recipe's one line names five fields and a command that this very Python understands."""
    [line] = [x for x in recipe(root, "cron")["wrackline.cron"].splitlines() if not x.startswith("#")]
    fields = line.split(" ", 5)
    assert fields[:5] == ["15", "2", "*", "*", "*"]
    here = Path(__file__).parents[2]
    done = subprocess.run(
        ["sh", "-c", fields[5] + " --day soon"], capture_output=True, text=True, cwd=here, check=False
    )
    assert done.returncode == 2 and "--day 'soon' is no day" in done.stderr


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="systemd is not on this machine")
def test_systemd_finds_its_units_sound(root, tmp_path):
    """systemd's own check finds no fault in the service and timers, and reads the programme's time."""
    made = write(root, "systemd", tmp_path) + write(root, "dagster", tmp_path)
    units = [str(p) for p in made if p.suffix in (".service", ".timer")]
    done = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *units], capture_output=True, text=True, check=False
    )
    ours = [line for line in done.stderr.splitlines() if "wrackline" in line and "Unknown" in line]
    assert ours == [] and len(units) == 3
    assert "OnCalendar=*-*-* 02:15:00 Europe/Oslo" in (tmp_path / "wrackline-night.timer").read_text()


def test_the_container_is_an_ordinary_user_without_network(root):
    """The container installs the locked list, runs as a user that is not root, without network; sh reads its script."""
    told = recipe(root, "container")
    assert "--require-hashes" in told["Containerfile"] and "\nUSER wrackline\n" in told["Containerfile"]
    assert "--network=none" in told["container-night.sh"] and '"$@"' in told["container-night.sh"]
    subprocess.run(["sh", "-n"], input=told["container-night.sh"], text=True, check=True)
    assert yaml.safe_load(recipe(root, "dagster")["workspace.yaml"])["load_from"]


def test_a_recipe_overwrites_nothing(root, tmp_path):
    """Written twice it is as it was; where somebody changed a file it is refused, and so is a path that system files misread."""
    made = write(root, "dagster", tmp_path)
    assert write(root, "dagster", tmp_path) == made
    made[0].write_text("telemetry: {enabled: true}\n")
    with pytest.raises(BadUsage, match="says otherwise"):
        write(root, "dagster", tmp_path)
    odd = tmp_path / "my kelp"
    shutil.copytree(root, odd)
    with pytest.raises(BadUsage, match="plainer path"):
        recipe(odd, "cron")
    assert sys.executable in recipe(root, "cron")["wrackline.cron"]
