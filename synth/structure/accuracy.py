"""Surface and in-plane error of a network: random misfits by exact covariance, steady fields by superposition."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats
from synth.structure.assembly import BOW, GRAVITY
from synth.structure.forms import Forms


@dataclass(frozen=True, eq=False)
class Gauge:
    """One way to measure panel motions q [B, P, N']: mean square over all receiving faces after a best fit.

    square [B, P, N', N']: q^T square q is the mean square. fit [B, P, N', R]: q^T fit are the inner products with
    R fitted fields; gram [B, R, R]: theirs with each other.
    """

    square: Floats
    fit: Floats
    gram: Floats

    def removed(self, products: Floats) -> Column:
        """Share [B] that the fit takes away, from second moments [B, R, R] of the inner products."""
        return np.asarray(np.trace(np.linalg.solve(self.gram, products), axis1=1, axis2=2))

    def random(self, covariance: Floats, products: Floats) -> Column:
        """Expected mean square [B] from the covariance [B, P, N', N'] of each panel's motion."""
        rows = len(covariance)
        total = (self.square.reshape(rows, 1, -1) @ covariance.reshape(rows, -1, 1))[:, 0, 0]
        return np.asarray(np.maximum(total - self.removed(products), 0.0))

    def steady_each(self, motions: Floats) -> Floats:
        """Mean square [B, R] of each of R motions [B, P, N', R]."""
        total = np.einsum("bpir,bpir->br", motions, self.square @ motions)
        inner = np.einsum("bpir,bpif->bfr", motions, self.fit)
        gone = np.einsum("bfr,bfr->br", inner, np.linalg.solve(self.gram, inner))
        return np.asarray(np.maximum(total - gone, 0.0))

    def steady(self, motion: Floats, extra: Floats | None = None, alone: Column | float = 0.0) -> Column:
        """Mean square [B] of one motion [B, P, N'].

        A further field that panel motions cannot tell (free growth) enters by its inner products `extra`
        [B, P, N'] with the freedoms and its own mean square `alone` [B]; it has none with the fitted fields.
        """
        pressed = (self.square @ motion[..., None])[..., 0]
        total = np.einsum("bpi,bpi->b", motion, pressed) + alone
        if extra is not None:
            total = total + 2.0 * np.einsum("bpi,bpi->b", motion, extra)
        inner = (motion[..., None, :] @ self.fit)[..., 0, :].sum(axis=1)
        return np.asarray(np.maximum(total - self.removed(inner[:, :, None] * inner[:, None, :]), 0.0))


@dataclass(frozen=True, eq=False)
class Gauges:
    """Deflection about the best-fit plane (or paraboloid), in-plane shift of the face, and slope about its mean.

    growth_products [B, P, N'], growth_square [B]: unit free growth of all panels in the in-plane gauge.
    """

    surface: Gauge
    in_plane: Gauge
    slope: Gauge
    growth_products: Floats
    growth_square: Column


def gauges(forms: Forms, receiving: Bools, thickness: Column, fields: int) -> Gauges:
    """Gauges of a batch. receiving [P], thickness [B]; fields: how many of 1, x, y, x^2 + y^2 the fit of deflection
    takes off: 0, 3 (best-fit plane) or 4 (and focus).

    The face lies half a thickness in front of the mid-plane: it shifts by (u, v) - t/2 grad w.
    """
    area = forms.area * receiving
    share = area / np.maximum(area.sum(axis=1, keepdims=True), 1e-12)
    half = 0.5 * thickness[:, None, None]
    growth = np.zeros((*forms.swell.shape[:2], forms.swell.shape[-1] + 3))
    growth[..., :-3] = -half * share[..., None] * forms.swell
    return Gauges(
        surface=_surface(forms, share, fields),
        in_plane=_in_plane(forms, share, half),
        slope=_slope(forms, share, fields == 4),
        growth_products=growth,
        growth_square=(share * forms.polar).sum(axis=1),
    )


def _blank(forms: Forms, columns: int) -> Floats:
    shape = forms.swell.shape
    return np.zeros((*shape[:2], shape[-1] + 3, columns))


def _surface(forms: Forms, share: Floats, fields: int) -> Gauge:
    n = forms.swell.shape[-1]
    square, fit = _blank(forms, n + 3), _blank(forms, fields)
    square[..., :-3, :-3] = share[..., None, None] * forms.square
    wanted = forms.fit[..., :fields]
    fit[..., :-3, :] = square[..., :-3, :-3] @ wanted
    return Gauge(square, fit, (np.swapaxes(wanted, -1, -2) @ fit[..., :-3, :]).sum(axis=1))


def _in_plane(forms: Forms, share: Floats, half: Floats) -> Gauge:
    square, rigid = _blank(forms, forms.swell.shape[-1] + 3), _blank(forms, 3)
    square[..., :-3, :-3] = half[..., None] ** 2 * forms.slopes
    square[..., :-3, -3:-1] = -half[..., None] * np.swapaxes(forms.slope, -1, -2)
    square[..., :-3, -1] = half * forms.spin
    square[..., -3:, :-3] = np.swapaxes(square[..., :-3, -3:], -1, -2)
    square[..., -3, -3] = square[..., -2, -2] = 1.0
    square[..., -1, -1] = forms.polar
    square *= share[..., None, None]
    # a shift of all, and a spin of all about the origin: (u, v) = (-y, x) at each centroid, theta = 1
    rigid[..., -3, 0] = rigid[..., -2, 1] = rigid[..., -1, 2] = 1.0
    rigid[..., -3, 2], rigid[..., -2, 2] = -forms.centre[..., 1], forms.centre[..., 0]
    fit = square @ rigid
    return Gauge(square, fit, (np.swapaxes(rigid, -1, -2) @ fit).sum(axis=1))


def _slope(forms: Forms, share: Floats, refocus: bool) -> Gauge:
    square, fit = _blank(forms, forms.swell.shape[-1] + 3), _blank(forms, 3 if refocus else 2)
    square[..., :-3, :-3] = share[..., None, None] * forms.slopes
    fit[..., :-3, :2] = np.swapaxes(forms.slope, -1, -2)
    gram = np.tile(np.eye(fit.shape[-1]), (len(share), 1, 1))
    if refocus:
        centre = forms.centre
        fit[..., :-3, 2] = forms.swell + np.einsum("bpk,bpkn->bpn", centre, forms.slope)
        gram[:, 2, 2] = (share * (forms.polar + (centre**2).sum(axis=-1))).sum(axis=1)
        gram[:, 2, :2] = gram[:, :2, 2] = np.einsum("bp,bpk->bk", share, centre)
    return Gauge(square, fit * share[..., None, None], gram)


@dataclass(frozen=True, eq=False)
class Errors:
    """Mean squares [B] over the receiving faces: m^2, slopes rad^2."""

    joints_m2: Column
    bow_m2: Column
    gravity_m2: Column
    steady_m2: Column
    in_plane_joints_m2: Column
    in_plane_steady_m2: Column
    slope_joints_rad2: Column
    slope_steady_rad2: Column


def steady_errors(made: Gauges, motion: Floats, strain: Column) -> dict[str, Column]:
    """Mean squares of the steady fields from their motions [B, P, N', 3] and the free growth strain [B]."""
    whole = motion.sum(axis=-1)
    alone = strain**2 * made.growth_square
    fields = np.stack([motion[..., BOW], motion[..., GRAVITY], whole], axis=-1)
    bow, gravity, steady = np.moveaxis(made.surface.steady_each(fields), -1, 0)
    return {
        "bow_m2": bow,
        "gravity_m2": gravity,
        "steady_m2": steady,
        "in_plane_steady_m2": made.in_plane.steady(whole, strain[:, None, None] * made.growth_products, alone),
        "slope_steady_rad2": made.slope.steady(whole),
    }
