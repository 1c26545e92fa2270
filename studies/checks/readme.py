"""Runs README's lines of Python and SQL in a folder that holds the example's study folder.

    python readme.py FOLDER
"""

import os
import pathlib
import re
import sys

import duckdb


def main():
    text = pathlib.Path(__file__).resolve().parents[2].joinpath("README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"^```(python|sql)\n(.*?)^```", text, re.MULTILINE | re.DOTALL)
    if {kind for kind, _ in blocks} != {"python", "sql"}:
        sys.exit("README has no lines of Python or none of SQL")
    os.chdir(sys.argv[1])
    for kind, block in blocks:
        if kind == "sql":
            rows = duckdb.sql(block).fetchall()
            print(*rows, sep="\n")
            if not rows:
                sys.exit("README's SQL finds nothing")
        else:
            exec(block, {})


if __name__ == "__main__":
    main()
