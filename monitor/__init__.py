"""Climate monitor with alerts for insect rearing rooms."""

import os

__version__ = "0.2.0"

# All matrices here are tiny. With threads of its own the algebra library of numpy waits for itself on a busy
# machine: a system of three equations then took 1.5 ms, not 0.03.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
