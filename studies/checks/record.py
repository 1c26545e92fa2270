"""Reads a study folder with three readers of Parquet and compares them, and with `trammel rank`.

pyarrow, DuckDB and polars must agree on rows, names, types, order, nulls, values, sums, least and
greatest values and key-value metadata of every table; nothing may be NaN or infinite; a condition on
a column must find every row, though readers skip row groups by their statistics; and what `trammel
rank --format json` says of the study must stand in the rows.

    python record.py FOLDER --trammel PATH

Prints what it compared and ends with 1 when something differs.
"""

import argparse
import json
import math
import pathlib
import re
import subprocess
import sys

import duckdb
import polars as pl
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq

TYPES = {"int64": ("int64", "BIGINT", pl.Int64), "float64": ("double", "DOUBLE", pl.Float64),
         "bool": ("bool", "BOOLEAN", pl.Boolean), "text": ("string", "VARCHAR", pl.String)}
BLOCKS, ROWS = 10**8, 10**5  # of a stage, of a block: run = stage · 10¹³ + block · 10⁵ + index
BROKEN = 1e-6  # of a limit's scale

faults, compared = [], 0


def same(what, *values):
    """Counts a comparison, and keeps what differs."""
    global compared
    compared += 1
    if any(v != values[0] for v in values[1:]):
        faults.append(f"{what}: {', '.join(repr(v)[:200] for v in values)}")


def near(what, a, b):
    """The same for sums, which readers add up in orders of their own."""
    same(what, a if a is None or b is None or not math.isclose(a, b, rel_tol=1e-11, abs_tol=1e-9) else b, b)


def column_name(word):
    """The rule for names of a user's, for the letters that the examples use."""
    return re.sub("[^a-z0-9]+", "_", word.lower()).strip("_")


def quoted(name):
    return '"' + name + '"'


class Table:
    """One table of a study folder, read three times."""

    def __init__(self, folder, name):
        self.name = name
        self.parts = sorted((folder / name).glob("*.parquet"))
        if not self.parts:
            sys.exit(f"{folder / name} has no parts")
        self.arrow = pa.concat_tables([pq.read_table(p) for p in self.parts])
        self.glob = str(folder / name / "*.parquet")
        self.duck = duckdb.connect()
        self.duck.execute(f"CREATE VIEW t AS SELECT * FROM read_parquet('{self.glob}')")
        self.polars = pl.read_parquet(self.glob)

    def ask(self, query, *values):
        return self.duck.execute(query, values).fetchone()

    def metadata(self):
        """Key-value metadata of each part by each reader; they must agree, and parts with one another."""
        first = None
        for part in self.parts:
            stored = pq.ParquetFile(part).metadata.metadata
            arrow = {k.decode(): v.decode() for k, v in stored.items() if k != b"ARROW:schema"}
            rows = self.duck.execute(f"SELECT decode(key), decode(value) FROM parquet_kv_metadata('{part}')").fetchall()
            polars = {k: v for k, v in pl.read_parquet_metadata(part).items() if k != "ARROW:schema"}
            same(f"{part.name}: metadata", arrow, dict(rows), polars)
            first = first or arrow
            same(f"{part.name}: metadata of the first part", first, arrow)
        return first

    def compare(self):
        meta = self.metadata()
        columns = json.loads(meta["trammel.record.columns"])
        names = [c["name"] for c in columns]
        described = self.duck.execute("DESCRIBE t").fetchall()
        same(f"{self.name}: names", names, self.arrow.column_names, [d[0] for d in described], self.polars.columns)
        for i, c in enumerate(columns):
            arrow, duck, polars = TYPES[c["type"]]
            field = self.arrow.schema.field(i)
            same(f"{c['name']}: type", (arrow, duck, polars), (str(field.type), described[i][1], self.polars.dtypes[i]))
            same(f"{c['name']}: may be null", field.nullable, c.get("nullable", False))
            same(f"{c['name']}: has a meaning", bool(c.get("meaning")), True)
        rows = self.arrow.num_rows
        same(f"{self.name}: rows", rows, self.ask("SELECT count(*) FROM t")[0], self.polars.height)
        whole = self.duck.cursor().sql("SELECT * FROM t").to_arrow_table()
        for c in columns:
            self.column(c, whole)
        self.statistics()
        return meta, columns

    def column(self, c, whole):
        name = c["name"]
        a, p, q = self.arrow[name].combine_chunks(), self.polars[name], quoted(name)
        nulls = self.ask(f"SELECT count(*) - count({q}) FROM t")[0]
        same(f"{name}: nulls", a.null_count, nulls, p.null_count())
        if not c.get("nullable", False):
            same(f"{name}: nulls", nulls, 0)
        # Bit for bit, row by row.
        same(f"{name}: values in DuckDB", a.to_pylist() == whole[name].to_pylist(), True)
        same(f"{name}: values in polars", a.to_pylist() == p.to_list(), True)
        if c["type"] == "bool":
            same(f"{name}: trues", pc.sum(a).as_py() or 0, self.ask(f"SELECT count(*) FILTER ({q}) FROM t")[0], p.sum())
            return
        least, greatest = pc.min(a).as_py(), pc.max(a).as_py()
        same(f"{name}: least and greatest", (least, greatest), self.ask(f"SELECT min({q}), max({q}) FROM t"), (p.min(), p.max()))
        if c["type"] != "float64" or least is None:
            return
        near(f"{name}: sum in DuckDB", pc.sum(a).as_py(), self.ask(f"SELECT fsum({q}) FROM t")[0])
        near(f"{name}: sum in polars", pc.sum(a).as_py(), p.sum())
        odd = self.ask(f"SELECT count(*) FROM t WHERE isnan({q}) OR isinf({q})")[0]
        same(f"{name}: NaN or infinite", 0, odd, pc.sum(pc.invert(pc.is_finite(a))).as_py(), p.is_finite().not_().sum())
        self.conditions(name, a, p)

    def conditions(self, name, a, p):
        """No condition on a column loses a row to statistics: counted without them, in Python."""
        values = [v for v in a.to_pylist() if v is not None]
        order = sorted(values)
        lazy = pl.scan_parquet(self.glob)
        for c in {order[0] - 1, order[0], order[len(order) // 10], order[len(order) // 2], order[-1]}:
            want = sum(v > c for v in values)
            same(f"{name} > {c}", want, self.ask(f"SELECT count(*) FROM t WHERE {quoted(name)} > ?", c)[0],
                 lazy.filter(pl.col(name) > c).select(pl.len()).collect().item())

    def statistics(self):
        """Least and greatest in the file of every row group against its values."""
        for part in self.parts:
            f = pq.ParquetFile(part)
            for g in range(f.num_row_groups):
                data, group = f.read_row_group(g), f.metadata.row_group(g)
                for i, name in enumerate(data.column_names):
                    s = group.column(i).statistics
                    if s is None or not s.has_min_max or str(data.schema.field(i).type) in ("bool", "string"):
                        continue
                    same(f"{part.name}, group {g}, {name}: statistics", (s.min, s.max), (pc.min(data[name]).as_py(), pc.max(data[name]).as_py()))


def check_rows(runs):
    """What must hold between the cells of every row."""
    names = runs.arrow.column_names
    over = [quoted(n) for n in names if n.startswith("over_")]
    worst = f"greatest({', '.join(over)})" if len(over) > 1 else over[0] if over else "0"
    for what, wrong in {
        "runs that appear twice": "SELECT count(*) - count(DISTINCT run) FROM t",
        "run numbers that do not fit stage and block": f"SELECT count(*) FROM t WHERE run // {ROWS} % {BLOCKS} <> block OR run // {ROWS * BLOCKS} <> stage",
        "parents that are no earlier run": "SELECT count(*) FROM t a WHERE parent IS NOT NULL AND NOT EXISTS (FROM t b WHERE b.run = a.parent AND b.run < a.run)",
        "unknown statuses": "SELECT count(*) FROM t WHERE status NOT IN ('ok', 'over_limit', 'cannot_assemble', 'folds', 'bad_geometry')",
        "ok runs with a broken limit": f"SELECT count(*) FROM t WHERE status = 'ok' AND ({worst} > {BROKEN} OR violation <> 0)",
        "over_limit runs without one": f"SELECT count(*) FROM t WHERE status = 'over_limit' AND (NOT {worst} > {BROKEN} OR NOT violation > 0)",
        "assembled runs without a score": "SELECT count(*) FROM t WHERE status IN ('ok', 'over_limit') AND (score IS NULL OR violation IS NULL)",
        "failed runs with a score": "SELECT count(*) FROM t WHERE status NOT IN ('ok', 'over_limit') AND (score IS NOT NULL OR violation IS NOT NULL)",
        "runs that are not ok and do not say why": "SELECT count(*) FROM t WHERE (status = 'ok') <> (reason IS NULL)",
    }.items():
        same(what, runs.ask(wrong)[0], 0)
    order = runs.arrow["run"].to_pylist()
    same("runs stand in their order", order == sorted(order), True)


def check_verdict(row, verdict):
    """A row against what rank says of the run, which it solved again."""
    run = verdict["run"]
    for key in ("status", "score", "violation"):
        same(f"run {run}: {key}", row[key], verdict[key])
    for m in verdict["moved"]:
        name = "vary_" + column_name(m["name"])
        if "unit" in m:
            same(f"run {run}: {m['name']}", row[f"{name}_{m['unit']}"], m["now"])
        else:
            same(f"run {run}: {m['name']}", row[name], m["kind"])
    for kind, number in (("targets", "miss"), ("limits", "over")):
        for t in verdict[kind]:
            name = column_name(t["name"])
            same(f"run {run}: {number} of {t['name']}", row[f"{number}_{name}"], t[number])
            got = [c for c in row if re.fullmatch(f"got_{name}(_deg_per_mm|_per_mm|_mm|_deg|_percent)?", c)]
            same(f"run {run}: got of {t['name']}", [row[c] for c in got], [t["got"]])
            if kind == "targets":
                same(f"run {run}: {t['name']} is met", row[f"met_{name}"], t["met"])


def check_rank(runs, columns, rank):
    counts = dict(runs.duck.execute("SELECT status, count(*) FROM t GROUP BY status").fetchall())
    same("statuses", counts, {k: v for k, v in rank["status"].items() if v}, dict(runs.polars.group_by("status").len().iter_rows()))
    same("runs", rank["runs"], rank["recorded"], runs.arrow.num_rows)
    same("any_feasible", rank["any_feasible"], counts.get("ok", 0) > 0)
    same("columns", rank["columns"], columns)
    same("there is an answer", bool(rank["answers"]), True)
    if rank["answers"]:
        best = rank["answers"][0]
        order = "ORDER BY round(violation * 1e9), score, run LIMIT 1"  # which counts by 1e-9
        run, score = runs.ask(f"SELECT run, score FROM t WHERE score IS NOT NULL {order}")
        same("the least run", run, runs.polars.filter(pl.col("score").is_not_null()).sort((pl.col("violation") * 1e9).round(), "score", "run")["run"][0])
        if rank["any_feasible"] and best["status"] == "ok" and score <= best["score"] <= score * (1 + 1e-4):
            run = best["run"]  # another answer is as good, and moves less
        same("the best run", best["run"], run)
    for verdict in rank["answers"] + [v for v in [rank["design"]] if v]:
        at = pc.index(runs.arrow["run"], verdict["run"]).as_py()
        same(f"run {verdict['run']} is there", at >= 0, True)
        if at >= 0:
            check_verdict(runs.arrow.slice(at, 1).to_pylist()[0], verdict)


def check_curves(folder, trammel, curves, best):
    """The curves that were kept of the best run against those made again."""
    done = subprocess.run([trammel, "curves", str(folder), "--run", str(best), "--format", "json"], capture_output=True, text=True, check=True)
    again = json.loads(done.stdout)
    kept = curves.arrow.filter(pc.equal(curves.arrow["run"], best)).to_pylist()
    same("curves of the best run", kept, again["rows"])
    same("they are not empty", bool(kept), True)


def main():
    ask = argparse.ArgumentParser(description="Reads a study folder with pyarrow, DuckDB and polars, and compares.")
    ask.add_argument("folder", type=pathlib.Path)
    ask.add_argument("--trammel", required=True, help="the program")
    o = ask.parse_args()
    done = subprocess.run([o.trammel, "rank", str(o.folder), "--format", "json"], capture_output=True, text=True)
    if done.returncode not in (0, 3):
        sys.exit(f"trammel rank ended with {done.returncode}: {done.stderr}")
    rank = json.loads(done.stdout)
    runs, curves = Table(o.folder, "runs"), Table(o.folder, "curves")
    meta, columns = runs.compare()
    curves.compare()
    same("study", meta["study"], rank["study"])
    same("study_text", meta["study_text"], (o.folder / "study.yaml").read_bytes().decode())
    same("geometry_text", meta["geometry_text"], (o.folder / "geometry.yaml").read_bytes().decode())
    same("caution", meta["caution"], rank["caution"])
    check_rows(runs)
    check_rank(runs, columns, rank)
    check_curves(o.folder, o.trammel, curves, rank["answers"][0]["run"])
    print(f"{runs.arrow.num_rows} runs, {len(columns)} columns; {curves.arrow.num_rows} rows of curves; {compared} comparisons "
          f"(pyarrow {pa.__version__}, DuckDB {duckdb.__version__}, polars {pl.__version__})")
    for f in faults[:20]:
        print("WRONG " + f)
    if faults:
        sys.exit(f"{len(faults)} differences")


if __name__ == "__main__":
    main()
