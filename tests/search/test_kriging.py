import numpy as np

from synth.search.kriging import NUGGET, REACHES, Kriging, Line, bordered, covariances, distances
from tests.near import near


def rows_and_figures(n: int) -> tuple[np.ndarray, np.ndarray]:
    X = np.random.default_rng(n).random((n, 3))
    return X, np.stack([np.sin(3.0 * X[:, 0]) + X[:, 1] ** 2, np.exp(X[:, 2]) * X[:, 0]], axis=1)


def fitted(X: np.ndarray, Y: np.ndarray, line: Line) -> tuple[Kriging, float]:
    far = distances(X, X)
    mean = float(far.mean())
    every = np.arange(len(X))
    return Kriging.through(line, bordered(covariances(far, mean), every), every), mean


def test_weights_and_variance_are_those_of_the_textbook() -> None:
    """Against the system of ordinary kriging with its Lagrange multiplier, solved for each point by a general solver
    (Cressie 1993, Statistics for Spatial Data, 3.2.12 to 3.2.16; from memory)."""
    X, Y = rows_and_figures(30)
    line = Line.through(X, Y)
    found, mean = fitted(X, Y, line)
    at = rows_and_figures(8)[0]
    told, error = found.at(at, covariances(distances(at, X), mean))
    for part in found.parts:
        K = covariances(distances(X, X), mean)[part.reach] + NUGGET * np.eye(30)
        k = covariances(distances(at, X), mean)[part.reach]
        for m in range(len(at)):
            system = np.block([[K, np.ones((30, 1))], [np.ones((1, 30)), np.zeros((1, 1))]])
            solved = np.linalg.solve(system, np.append(k[m], 1.0))
            weights, multiplier = solved[:30], solved[30]
            near(weights.sum(), 1.0, rel=1e-9)
            for column, which in enumerate(part.which):
                value = line.at(at[m : m + 1])[0, which] + weights @ line.left[:, which]
                near(told[m, which], line.mean[which] + line.size[which] * value, rel=1e-8)
                variance = 1.0 - weights @ k[m] - multiplier
                near(error[m, which], line.size[which] * part.spread[column] * np.sqrt(variance), rel=1e-6)


def test_errors_of_leaving_a_row_out_are_those_of_leaving_it_out() -> None:
    """The shortcut over the inverse (Dubrule 1983, Cross validation of kriging in a unique neighborhood) against n fits
    of n - 1 rows each; the reach of each figure is the one with the least of them, and its variance makes their mean
    square one."""
    X, Y = rows_and_figures(24)
    line = Line.through(X, Y)
    found, mean = fitted(X, Y, line)
    missed, size = np.zeros((len(REACHES), 24, 2)), np.zeros((len(REACHES), 24))
    for reach, whole in enumerate(covariances(distances(X, X), mean)):
        for out in range(24):
            rest = np.delete(np.arange(24), out)
            K = whole[np.ix_(rest, rest)] + NUGGET * np.eye(23)
            system = np.block([[K, np.ones((23, 1))], [np.ones((1, 23)), np.zeros((1, 1))]])
            solved = np.linalg.solve(system, np.append(whole[out, rest], 1.0))
            missed[reach, out] = line.left[out] - solved[:23] @ line.left[rest]
            size[reach, out] = 1.0 + NUGGET - solved[:23] @ whole[out, rest] - solved[23]
    best = (missed**2).mean(axis=1).argmin(axis=0)
    for part in found.parts:
        assert (best[part.which] == part.reach).all()
        want = np.sqrt((missed[part.reach][:, part.which] ** 2 / size[part.reach][:, None]).mean(axis=0))
        near(part.spread, want, rel=1e-7)


def test_a_bordered_inverse_is_one() -> None:
    X, _ = rows_and_figures(40)
    rows = np.arange(0, 40, 2)
    far = distances(X, X)
    for whole, inverse in zip(
        covariances(far, float(far.mean())), bordered(covariances(far, float(far.mean())), rows), strict=True
    ):
        system = np.ones((21, 21))
        system[:20, :20] = whole[np.ix_(rows, rows)] + NUGGET * np.eye(20)
        system[20, 20] = 0.0
        near(inverse @ system, np.eye(21), abs=1e-10)
