"""``python -m reduce``, the same as the ``reduce`` command."""

from __future__ import annotations

import gc
import os
import sys


def main() -> None:
    """Runs the command line and leaves with its exit status."""
    # one thread for numpy's products, which are small: more of them wait at full speed and cost a tenth of a run
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    gc.disable()  # records hold no cycles and a run is short: collecting costs a fifth of it
    from reduce.cli import run

    status = run(sys.argv[1:])
    gc.freeze()  # nor is the end swept: the system takes back all at once
    sys.exit(status)


if __name__ == "__main__":
    main()
