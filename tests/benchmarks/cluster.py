"""The tally's one statement on Apache Spark: the same text, translated by ``sqlglot``, and the same answer.

Wants the extra ``cluster`` (pyspark, sqlglot) and a Java. Both ways start from the same Parquet file of checked records.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd

from gapmap.coverage.tally import tally, tally_sql
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings, text_to_classes

CLASSES = "-1999, 2000-2009, 2010-"
SIDE = 2000


def here(path: str) -> dict[str, float]:
    """In this process, by DuckDB."""
    return _answer(tally(_records(path), SIDE, text_to_classes(CLASSES)))


def spark(path: str) -> dict[str, float]:
    """By Spark on this machine; its tally must be the one above, value for value."""
    records = _records(path)
    classes = text_to_classes(CLASSES)
    with tempfile.TemporaryDirectory() as folder:
        checked = Path(folder) / "records.parquet"
        records.connection.execute(f"copy (select * from records) to '{checked}' (format parquet)")
        found = on_spark(tally_sql(records, SIDE, classes), checked)
    expected = tally(records, SIDE, classes)
    for name in expected.columns:
        assert (found[name].to_numpy() == expected[name].to_numpy()).all(), f"Spark's {name} differs"
    return _answer(found)


def on_spark(statement: str, checked: Path) -> pd.DataFrame:
    """Run a statement written for DuckDB over a Parquet file of checked records."""
    import sqlglot
    from pyspark.sql import SparkSession

    session = (
        SparkSession.builder.master("local[2]").appName("gapmap").config("spark.ui.enabled", "false")
        .config("spark.sql.shuffle.partitions", "8").config("spark.driver.memory", "3g")
        .config("spark.sql.execution.arrow.pyspark.enabled", "true")
        .config("spark.sql.ansi.enabled", "false").getOrCreate()
    )  # fmt: skip
    session.read.parquet(str(checked)).createOrReplaceTempView("records")
    frame: pd.DataFrame = session.sql(sqlglot.transpile(statement, read="duckdb", write="spark")[0]).toPandas()
    session.stop()
    return frame


def _records(path: str) -> Records:
    return read_records([Path(path)], Settings(area=AreaSection(square="2km")))


def _answer(frame: pd.DataFrame) -> dict[str, float]:
    return {name: float(frame[name].sum()) for name in ("records", "visits", "lists", "first", "last")}
