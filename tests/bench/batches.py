"""What a candidate costs by how many share a batch: screened, and worked out in full.

Run: python -m tests.bench.batches. Least processor time of several runs, one core, memory kept as a worker does.
Screened: everything is too heavy, so rows are laid out, weighed and put into their envelopes, and no structure is
worked out.
"""

from threadpoolctl import threadpool_limits

from synth.cell import space
from synth.evaluate import evaluate
from synth.search.pool import keep_memory
from tests.bench.evaluate import ROOMY, STRICT, cell, rows
from tests.bench.timing import seconds

BATCHES = (5, 64, 256, 1024)


def line(panels: int, batch: int) -> str:
    """A row of the table."""
    chosen, cells = cell(panels), []
    X = rows(chosen, batch)
    for asked in (STRICT, ROOMY):
        columns = space(asked, chosen).columns(X)
        evaluate(asked, chosen, columns)
        taken = seconds(lambda: evaluate(asked, chosen, columns), max(2, 40 // batch))  # noqa: B023
        cells += [f"{1e3 * taken / batch:.2f}", f"{batch / taken:.0f}"]
    return f"| {panels} | {batch} | " + " | ".join(cells) + " |"


def main() -> None:
    keep_memory()
    with threadpool_limits(1):
        print("| panels | batch | ms screened | screened a second | ms worked out | worked out a second |")
        print("| --- | --- | --- | --- | --- | --- |")
        for panels in (7, 19):
            for batch in BATCHES:
                print(line(panels, batch), flush=True)


if __name__ == "__main__":
    main()
