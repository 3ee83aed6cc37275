"""The tally's one statement on Apache Spark: the same text, translated by ``sqlglot``, and the same answer.

Wants the extra ``cluster`` (pyspark, sqlglot) and a Java. Both ways start from the same Parquet file of checked records.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pandas as pd
import sqlglot
from pyspark.sql import SparkSession
from sqlglot import exp
from sqlglot.optimizer.qualify import qualify

from gapmap.coverage.statement import tally_sql
from gapmap.coverage.tally import tally
from gapmap.records.clean import read_records
from gapmap.records.table import Records
from gapmap.settings import AreaSection, Settings
from gapmap.typed import text_to_classes

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
        kinds = {row[0]: row[1] for row in records.connection.execute("describe records").fetchall()}
        found = on_spark(in_spark_words(tally_sql(records, SIDE, classes), kinds), checked)
    expected = tally(records, SIDE, classes)
    for name in expected.columns:
        assert (found[name].to_numpy() == expected[name].to_numpy()).all(), f"Spark's {name} differs"
    return _answer(found)


def in_spark_words(statement: str, kinds: dict[str, str]) -> str:
    """The statement in Spark's dialect.

    Stars are spelled out, which takes the columns of ``records``. Spark cannot look at a grouped column behind
    grouping sets, so what the statement keeps there (its HAVING) is kept one level further out.
    """
    tree = qualify(sqlglot.parse_one(statement, read="duckdb"), schema={"records": kinds}, dialect="duckdb")
    names = [column.alias_or_name for column in tree.selects]
    order = tree.args["order"].pop()
    having = tree.args["having"].pop()
    for number, part in enumerate([*having.find_all(exp.Grouping), *having.find_all(exp.Is)]):
        kept = part if isinstance(part, exp.Grouping) else part.this
        seen = kept.copy() if isinstance(part, exp.Grouping) else exp.Max(this=kept.copy())
        tree.select(exp.alias_(seen, f"kept_{number}"), copy=False)
        kept.replace(exp.column(f"kept_{number}"))
    outer = exp.select(*names).from_(tree.subquery("grouped")).where(having.this)
    outer.set("order", order)
    return outer.sql(dialect="spark")


def on_spark(statement: str, checked: Path) -> pd.DataFrame:
    """Run a statement in Spark's dialect over a Parquet file of checked records."""
    session = (
        SparkSession.builder.master("local[2]").appName("gapmap").config("spark.ui.enabled", "false")
        .config("spark.sql.shuffle.partitions", "8").config("spark.driver.memory", "6g")
        .config("spark.driver.maxResultSize", "0")
        .config("spark.sql.execution.arrow.pyspark.enabled", "true").getOrCreate()
    )  # fmt: skip
    session.read.parquet(str(checked)).createOrReplaceTempView("records")
    frame: pd.DataFrame = session.sql(statement).toPandas()
    session.stop()
    return frame


def _records(path: str) -> Records:
    return read_records([Path(path)], Settings(area=AreaSection(square="2km")))


def _answer(frame: pd.DataFrame) -> dict[str, float]:
    return {name: float(frame[name].sum()) for name in ("records", "visits", "lists", "first", "last")}
