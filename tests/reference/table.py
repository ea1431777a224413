"""A CSV table by pandas."""

import sys
from pathlib import Path

import pandas as pd

folder = Path(sys.argv[1])
table = pd.read_csv(
    folder / "in" / "table", dtype={"name": str}, keep_default_na=False, float_precision="round_trip"
)
(folder / "out" / "name").write_bytes(b"".join(text.encode() + b"\x01" for text in table["name"]))
table["number"].to_numpy("<f8").tofile(folder / "out" / "number")
assert (table["last"] == "end").all()
