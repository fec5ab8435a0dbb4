"""The command that measures on Spark, as far as it is told without Java."""

import shutil

import pytest

from pipeline import on_spark
from pipeline.cli import main
from pipeline.errors import BadUsage


@pytest.mark.parametrize("flag", [["--segments", "s3a://bucket/segments"], ["--into", "elsewhere"]])
def test_what_spark_alone_is_told_is_refused_without_it(flag, tmp_path, capsys):
    """Where segments lie or figures go is nothing to the projection: the command says what is missing and does nothing."""
    assert main(["measure", *flag, "-p", str(tmp_path)]) == BadUsage.exit_code
    assert "add `--engine spark`" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_nothing_is_measured_before_anything_was_taken_in(empty, monkeypatch):
    """A ledger without a drop is refused before Java is started."""
    monkeypatch.setattr(on_spark, "_refuse_unready", lambda: None)
    with pytest.raises(BadUsage, match="wrackline take"):
        on_spark.measure_on_spark(empty.root)


@pytest.mark.parametrize(
    ("missing", "told"), [("java", "Java 17 or newer"), ("pyspark", r"pip install 'wrackline\[spark\]'")]
)
def test_without_java_or_pyspark_it_says_what_to_install(missing, told, programme, monkeypatch):
    """Where Java or pyspark is missing nothing is measured or written, and the message says what to install."""
    monkeypatch.delenv("JAVA_HOME", raising=False)
    monkeypatch.delenv("SPARK_REMOTE", raising=False)
    monkeypatch.setattr(shutil, "which", lambda name: None if missing == "java" else "/usr/bin/java")
    monkeypatch.setattr(on_spark, "find_spec", lambda name: None if name == missing else "there")
    with pytest.raises(BadUsage, match=told):
        on_spark.measure_on_spark(programme.root)
    assert not (programme.root / "out" / "spark").exists()
