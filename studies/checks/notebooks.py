"""Runs the notebooks of studies/notebooks in a folder that holds the example's study folder, and checks what they found.

    python notebooks.py FOLDER --trammel PROGRAM

The notebooks are run as they stand, in FOLDER, with the program on the path; outputs are thrown away. What they computed is compared
with trammel's own answer, with scipy, and with plain loops.
"""

import argparse
import os
import pathlib
import sys
import tempfile

import nbformat
from nbclient import NotebookClient

# What is run after the last cell of each notebook: it sees the notebook's variables.
CHECKS = {
    "open": """
import json, subprocess
answer = json.loads(subprocess.run(["trammel", "rank", folder, "--format", "json"], check=True, capture_output=True, text=True).stdout)
assert answer["answers"][0]["run"] == best.run and answer["answers"][0]["score"] == best.score, "another best run than trammel's"
assert answer["runs"] == len(runs) and answer["status"]["ok"] == len(ok)
assert len(columns) == len(runs.columns) and columns.meaning.notna().all()
assert design.score == answer["design"]["score"]
assert so_far.iloc[-1] == best.score and len(of_best) > 1
""",
    "sensitivity": """
from scipy import stats
assert len(vary) > 3 and len(got) > 3
# A line through one number alone, by scipy, where the number is alone: the effects of a function that is known.
u = np.random.default_rng(1).random((4000, 3))
known = pandas.DataFrame({"a": u[:, 0], "b": u[:, 1], "c": u[:, 2]})
known["y"] = 4 * known.a + 2 * known.b
e = effects(known, ["a", "b", "c"], "y")
assert np.allclose(e, [4 * np.ptp(known.a), 2 * np.ptp(known.b), 0], atol=1e-9), e
# The variance of 4a + 2b is 16/12 + 4/12: shares of 0.8, 0.2 and 0, exact from the variance of the uniform distribution.
s = first_order(known, ["a", "b", "c"], "y")
assert np.allclose(s, [0.8, 0.2, 0], atol=0.02), s
# The Ishigami function, a = 7, b = 0.1: 0.3139, 0.4424, 0 (T. Ishigami and T. Homma, 1990; the values follow from its integrals).
x = np.pi * (2 * np.random.default_rng(2).random((20000, 3)) - 1)
known = pandas.DataFrame(x, columns=["a", "b", "c"])
known["y"] = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
s = first_order(known, ["a", "b", "c"], "y", slices=32)
assert np.allclose(s, [0.3139, 0.4424, 0], atol=0.02), s
# Where one number decides nearly all, Spearman's rank correlation says so too.
name, output = share[got].stack().idxmax()
assert share.loc[name, output] > 0.5 and abs(stats.spearmanr(assembled[name], assembled[output]).statistic) > 0.6, (name, output)
""",
    "trade_offs": """
points = ok[[one, other]].to_numpy()
for row in edge.itertuples():
    p = np.array([getattr(row, one), getattr(row, other)])
    assert not ((points <= p).all(axis=1) & (points < p).any(axis=1)).any(), f"run {row.run} is not on the front"
best_of = [tuple(p) for p in points if not ((points <= p).all(axis=1) & (points < p).any(axis=1)).any()]
assert set(best_of) == {tuple(p) for p in edge[[one, other]].to_numpy()}, "the front lacks a run"
assert same, "curves made again differ from those kept"
assert set(curves.run) == set(chosen.values())
""",
}


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("folder")
    parser.add_argument("--trammel", required=True)
    args = parser.parse_args()
    here = pathlib.Path(__file__).resolve().parents[1] / "notebooks"
    names = sorted(p.stem for p in here.glob("*.ipynb"))
    if names != sorted(CHECKS):
        sys.exit(f"the notebooks are {names}; checks are written for {sorted(CHECKS)}")
    with tempfile.TemporaryDirectory() as work:
        program = pathlib.Path(args.trammel).resolve()
        (pathlib.Path(work) / program.name).symlink_to(program)
        if program.name != "trammel":
            (pathlib.Path(work) / "trammel").symlink_to(program)
        os.environ["PATH"] = work + os.pathsep + os.environ["PATH"]
        os.environ["MPLBACKEND"] = "module://matplotlib_inline.backend_inline"
        os.environ["IPYTHONDIR"] = os.path.join(work, "ipython")
        os.environ["MPLCONFIGDIR"] = os.path.join(work, "matplotlib")
        for name in names:
            run(here / f"{name}.ipynb", CHECKS[name], args.folder)


def run(path, check, folder):
    notebook = nbformat.read(path, as_version=4)
    nbformat.validate(notebook)
    cells = [c for c in notebook.cells if c.cell_type == "code"]
    if any(c.outputs or c.execution_count is not None for c in cells):
        sys.exit(f"{path.name} is kept with outputs; clear them")
    notebook.cells.append(nbformat.v4.new_code_cell(check))
    NotebookClient(notebook, timeout=300, kernel_name="python3", resources={"metadata": {"path": folder}}).execute()
    outputs = [o for c in cells for o in c.outputs]
    pictures = sum("image/png" in o.get("data", {}) for o in outputs)
    warnings = [o.text for o in outputs if o.get("name") == "stderr"]
    if pictures < 2 or warnings:
        sys.exit(f"{path.name}: {pictures} pictures; warnings: {warnings}")
    print(f"{path.name}: {len(cells)} cells, {pictures} pictures")


if __name__ == "__main__":
    main()
