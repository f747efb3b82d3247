"""Makes the inputs, or measures on them."""

import argparse
import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):  # numpy reads these as it loads
    os.environ.setdefault(_name, "2")


def main() -> None:
    """python -m tests.bench.gpu [--make] FILE"""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("file", help=".npz with the inputs")
    parser.add_argument("--make", action="store_true", help="write the file, with the program's code")
    options = parser.parse_args()
    if options.make:
        from .inputs import make

        make(options.file)
    else:
        from .measure import report

        report(options.file)


if __name__ == "__main__":
    main()
