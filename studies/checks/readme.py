"""Runs README's lines of Python, SQL and, where R is installed, of R, in a folder that holds the example's study folder.

    python readme.py FOLDER
"""

import math
import os
import pathlib
import re
import shutil
import subprocess
import sys

import duckdb

KINDS = ("sql", "python", "r")


def run_sql(block):
    rows = duckdb.sql(block).fetchall()
    print(*rows, sep="\n")
    if len(rows) != 10:
        sys.exit(f"README's SQL finds {len(rows)} runs where it asks for the ten best")
    return [score for _, score in rows]


def run_r(block, best):
    """Runs the lines and compares the ten scores that they print, each at the end of a line, with SQL's."""
    if shutil.which("Rscript") is None:
        print("R is not installed here, so that README's lines of R were not run")
        return
    # DuckDB's command line is among the packages of requirements.txt.
    path = os.pathsep.join([str(pathlib.Path(sys.executable).parent), os.environ["PATH"]])
    done = subprocess.run(["Rscript", "-e", block], env=os.environ | {"PATH": path}, stdout=subprocess.PIPE, text=True, check=True)
    print(done.stdout, end="")
    _, *lines = done.stdout.splitlines()
    scores = [float(line.split()[-1]) for line in lines]
    if len(scores) != len(best) or not all(math.isclose(a, b, rel_tol=1e-12) for a, b in zip(scores, best)):
        sys.exit(f"README's R finds the scores {scores}, and SQL {best}")


def main():
    text = pathlib.Path(__file__).resolve().parents[2].joinpath("README.md").read_text(encoding="utf-8")
    blocks = re.findall(rf"^```({'|'.join(KINDS)})\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    if {kind for kind, _ in blocks} != set(KINDS):
        sys.exit("README lacks lines of one of " + ", ".join(KINDS))
    os.chdir(sys.argv[1])
    best = None
    for kind, block in sorted(blocks, key=lambda b: KINDS.index(b[0])):
        if kind == "sql":
            best = run_sql(block)
        elif kind == "r":
            run_r(block, best)
        else:
            exec(block, {})


if __name__ == "__main__":
    main()
