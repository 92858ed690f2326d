"""From exports to measures; see DEVELOPERS.md for the folders."""

import os

# The models' matrices are small: threads of BLAS mostly wait, each on a processor of its own.
# `site_comparison` of 1 M rows and 100 sites took 18.7 CPU s with two threads, 1.7 with one, and
# its last digits then hang on the machine. Read when numpy is loaded, so before any such import.
for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
