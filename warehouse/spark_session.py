"""Which Spark is asked: the one that the environment tells of, else one in this process, on two cores and no network."""

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from pyspark.sql import SparkSession

# any of these, and where Spark runs is somebody's decision: Spark Connect, spark-submit, a folder of configuration
CONFIGURED = ("SPARK_REMOTE", "PYSPARK_GATEWAY_PORT", "SPARK_CONF_DIR", "PYSPARK_SUBMIT_ARGS")

HERE: dict[str, bool | float | int | str | None] = {
    "spark.master": "local[2]",
    "spark.driver.host": "127.0.0.1",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.sql.shuffle.partitions": "2",
    "spark.sql.sources.parallelPartitionDiscovery.threshold": "100000",  # files of a local disk are looked up at once
    "spark.driver.extraJavaOptions": f"-Dlog4j2.configurationFile={Path(__file__).parent / 'spark_log4j2.properties'}",
}
# Where a ledger is small, Java is over before its second compiler and its parallel collector would pay.
HERE_SMALL = {
    "spark.driver.defaultJavaOptions": "-XX:TieredStopAtLevel=1 -XX:+UseSerialGC -XX:ReservedCodeCacheSize=256m",
    "spark.default.parallelism": "1",
    "spark.sql.files.openCostInBytes": "1000",  # many small files are one task
}
# Told to every task, which does not hear of the session's settings where rows go out through Arrow.
TASKS = {
    "spark.sql.icu.caseMappings.enabled": "false",  # as in warehouse.spark.MEANINGS
    "callSite.short": "wrackline",  # else every step looks up who asked for it
    "callSite.long": "wrackline",
}


@contextmanager
def spark_session(small: bool = False) -> Iterator[SparkSession]:
    """A session, ended afterwards. small: what is asked fits into one task."""
    if any(name in os.environ for name in CONFIGURED):
        spark = SparkSession.builder.appName("wrackline").getOrCreate()
        try:
            yield spark
        finally:
            spark.stop()
        return
    with tempfile.TemporaryDirectory(prefix="wrackline-spark-") as folder:
        settings = {**HERE, "spark.local.dir": folder, "spark.sql.warehouse.dir": f"{folder}/tables"}
        settings |= HERE_SMALL if small else {}
        spark = SparkSession.builder.appName("wrackline").config(map=settings).getOrCreate()
        try:
            for name, value in TASKS.items():
                spark.sparkContext.setLocalProperty(name, value)
            yield spark
        finally:
            spark.stop()
