"""numpy and PyTorch as one namespace for the kernel."""

from typing import Any

import numpy as np

Arrays = dict[str, Any]


class Numpy:
    """numpy as the kernel's namespace."""

    name, device = "numpy", "cpu"

    def put(self, a: Any) -> Any:
        return np.asarray(a)

    def get(self, a: Any) -> Any:
        return a

    def wait(self) -> None:
        return

    def zeros(self, shape: tuple[int, ...]) -> Any:
        return np.zeros(shape)

    def cat(self, parts: list[Any], axis: int) -> Any:
        return np.concatenate(parts, axis=axis)

    def cholesky(self, a: Any) -> Any:
        return np.linalg.cholesky(a)

    def inverse(self, lower: Any) -> Any:
        """Of a lower triangle: the inverse of an upper one takes no pivoting, so this is plain substitution."""
        return np.linalg.inv(lower.mT).mT

    def forward(self, lower: Any, b: Any) -> Any:
        return self.inverse(lower) @ b

    def solve(self, a: Any, b: Any) -> Any:
        return np.linalg.solve(a, b)

    def eigh(self, a: Any) -> Any:
        return np.linalg.eigh(a)

    def where(self, test: Any, a: Any, b: Any) -> Any:
        return np.where(test, a, b)

    def clip(self, a: Any, low: float) -> Any:
        return np.maximum(a, low)

    def sum(self, a: Any, axes: tuple[int, ...]) -> Any:
        return a.sum(axis=axes)


class Torch(Numpy):
    """PyTorch as the kernel's namespace, on the processor or the GPU."""

    def __init__(self, device: str) -> None:
        import torch

        self.t, self.device, self.name = torch, device, f"torch {device}"

    def put(self, a: Any) -> Any:
        return self.t.from_numpy(np.ascontiguousarray(a)).to(self.device)

    def get(self, a: Any) -> Any:
        return a.cpu().numpy()

    def wait(self) -> None:
        if self.device != "cpu":
            self.t.cuda.synchronize()

    def zeros(self, shape: tuple[int, ...]) -> Any:
        return self.t.zeros(shape, dtype=self.t.float64, device=self.device)

    def cat(self, parts: list[Any], axis: int) -> Any:
        return self.t.cat(parts, dim=axis)

    def cholesky(self, a: Any) -> Any:
        return self.t.linalg.cholesky_ex(a, check_errors=False)[0]  # no wait for the answer of each step

    def inverse(self, lower: Any) -> Any:
        one = self.t.eye(lower.shape[-1], dtype=lower.dtype, device=self.device).expand(lower.shape)
        return self.t.linalg.solve_triangular(lower, one, upper=False)

    def forward(self, lower: Any, b: Any) -> Any:
        return self.t.linalg.solve_triangular(lower, b, upper=False)

    def backward(self, lower: Any, b: Any) -> Any:
        return self.t.linalg.solve_triangular(lower.mT, b, upper=True)

    def solve(self, a: Any, b: Any) -> Any:
        return self.t.linalg.solve_ex(a, b, check_errors=False)[0]

    def eigh(self, a: Any) -> Any:
        return self.t.linalg.eigh(a)

    def where(self, test: Any, a: Any, b: Any) -> Any:
        return self.t.where(test, a, b)

    def clip(self, a: Any, low: float) -> Any:
        return self.t.clamp(a, min=low)

    def sum(self, a: Any, axes: tuple[int, ...]) -> Any:
        return a.sum(dim=axes)
