"""The kernel that is measured on a GPU gives the program's figures; else its times would mean nothing."""

import numpy as np

from tests.bench.gpu.arrays import Numpy
from tests.bench.gpu.inputs import inputs
from tests.bench.gpu.kernel import FIGURES, WAYS, Tables, figures
from tests.bench.gpu.measure import DISTINCT, apart, batch_of


def test_the_kernel_gives_the_figures_of_the_program() -> None:
    given = inputs(7)
    tables, batch = Tables(Numpy(), given), batch_of(given, DISTINCT + 4)
    wanted = {k: given[f"figure_{k}"] for k in FIGURES}
    for way in WAYS:
        found = figures(Numpy(), batch, tables, way)
        assert apart(found, wanted) < 1e-9, "what a second path through the code would be held to"
        # candidates beyond those of the file have other springs
        assert np.abs(found["first_mode_hz"][DISTINCT:] / wanted["first_mode_hz"][:4] - 1.0).min() > 1e-6
