"""The rainflow package (ASTM E1049-85)."""

import rainflow
from exchange import load, save

cycles = sorted((range_, mean, count) for range_, mean, count, _, _ in rainflow.extract_cycles(load("samples")))
save("cycles", cycles)
