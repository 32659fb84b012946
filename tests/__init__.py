"""Tests, campaigns and benchmarks. Each takes one core: the threads that a matrix library would begin for small matrices beside
another process's only wait for one another, sixty times as long as the sums take."""

import os

for _threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_threads, "1")
