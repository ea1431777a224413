"""Runs the reader of a day file that the documentation shows, and hands back what it found, bit by bit."""

import os
import sys
from pathlib import Path

import numpy as np

folder = Path(sys.argv[1])
os.chdir(folder / "in")
found = {}
exec(Path("reader.py").read_text(), found)
out = folder / "out"
(out / "runs").write_text(str(len(found["file"]["day"]["runs"])))
for place, (time_s, columns) in enumerate(found["logs"].values()):
    np.asarray(time_s, "<f8").tofile(out / f"{place}-time")
    for number, values in enumerate(columns.values()):
        np.asarray(values, "<f8").tofile(out / f"{place}-{number}")
