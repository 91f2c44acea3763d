"""What floorclock costs and how well it foretells, each figure beside a baseline of the same run (`python -m tests.bench`).

Invariant: arithmetic keeps to one core, as on the floor. That must be said before numpy is imported.
"""

import os

os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
