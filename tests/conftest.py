"""One thread for linear algebra: the matrices are small, and threads of several test workers wait for each other."""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded for the first time
