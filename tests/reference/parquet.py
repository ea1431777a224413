"""The archive's Parquet file by pandas, column by column."""

import sys
from pathlib import Path

import pandas as pd
import pyarrow.parquet as pq

folder = Path(sys.argv[1])
sent, out = folder / "in", folder / "out"
table = pd.read_parquet(sent / "archive")
for name in ["day", "date", "run", "setup", "section", "metric"]:
    (out / name).write_bytes(b"".join(text.encode() + b"\x01" for text in table[name]))
table["run_number"].to_numpy("<i4").tofile(out / "run_number")
table["value"].to_numpy("<f4").tofile(out / "value")
schema = pq.read_schema(sent / "archive")
(out / "schema").write_text(", ".join(f"{field.name}: {field.type}" for field in schema))
(out / "empty").write_text(str(len(pd.read_parquet(sent / "empty"))))
