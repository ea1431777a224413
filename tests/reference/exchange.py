"""The Python side of the bridge in tests/src/python.rs."""

import sys
from pathlib import Path

import numpy as np

_folder = Path(sys.argv[1])


def load(name):
    """The array that the test sent under this name."""
    return np.fromfile(_folder / "in" / name, dtype="<f8")


def scalar(name):
    """A number that the test sent under this name."""
    return float(load(name)[0])


def save(name, values):
    """Hand an array, or a number, back to the test."""
    np.atleast_1d(np.asarray(values, dtype="<f8")).ravel().tofile(_folder / "out" / name)
