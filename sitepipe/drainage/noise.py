"""Correlated error: how far measured heights may be off, in fields that are smooth as such errors are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import Float32Array, FloatArray

QUICK_FACTORS = (2, 3, 5)
"""Factors of a size that transforms quickly."""

BEYOND = 2.5
"""The field wraps round; it is made larger by so many correlation lengths, over which errors part. [1]"""


@dataclass(frozen=True, slots=True)
class ErrorFields:
    """Maker of error fields with standard deviation 1.

    The correlation of two places a distance r apart is exp(-(r / length)^2).

    Parameters
    ----------
    shape : (rows, columns)
    size : (rows, columns)
        Of the larger field that is made.
    weight : (rows, frequencies) float32 array
        Amplitude of each wave.
    seed : int
    """

    shape: tuple[int, int]
    size: tuple[int, int]
    weight: Float32Array
    seed: int

    def field(self, number: int) -> Float32Array:
        """Make field ``number``: the same whenever and on whatever thread it is asked for."""
        random = np.random.Generator(np.random.Philox(key=[self.seed, number]))
        parts = random.standard_normal((2, *self.weight.shape), dtype=np.float32)
        waves = np.empty(self.weight.shape, dtype=np.complex64)
        waves.real = parts[0] * self.weight
        waves.imag = parts[1] * self.weight
        whole = np.fft.irfft2(waves, s=self.size)
        return np.asarray(whole[: self.shape[0], : self.shape[1]], dtype=np.float32)


def error_fields(shape: tuple[int, int], length: float, seed: int) -> ErrorFields:
    """Prepare error fields.

    Parameters
    ----------
    shape : (rows, columns)
    length : float
        Distance at which the correlation has fallen to 1/e. [cells]
    seed : int

    References
    ----------
    A Gaussian covariance, as in Oksanen & Sarjakoski (2005), Error propagation of DEM-based surface derivatives,
    Computers & Geosciences 31:1015-1027; fields by the spectral method.

    Examples
    --------
    >>> fields = error_fields((30, 40), 5.0, seed=1)
    >>> fields.field(3).shape, bool((fields.field(3) == fields.field(3)).all())
    ((30, 40), True)
    """
    length = max(length, 0.5)
    rows, columns = (quick_size(int(np.ceil(side + BEYOND * length))) for side in shape)
    down = np.fft.fftfreq(rows)[:, None]
    across = np.fft.rfftfreq(columns)[None, :]
    # The spectrum of exp(-(r/L)^2) is proportional to exp(-(pi L f)^2); the amplitude is its root.
    weight = np.exp(-0.5 * (np.pi * length) ** 2 * (down**2 + across**2))
    # Every wave stands for two, but for those along the first (and, of an even size, the last) column: of them the
    # inverse transform keeps the real part only, which halves their power, so their amplitude is raised.
    sides = np.full(weight.shape[1], 2.0)
    lone = [0, -1] if columns % 2 == 0 else [0]
    sides[lone] = 1.0
    scale = rows * columns / np.sqrt(2.0 * float(np.sum(weight**2 * sides)))
    weight[:, lone] *= np.sqrt(2.0)
    return ErrorFields(shape, (rows, columns), (weight * scale).astype(np.float32), seed)


def quick_size(least: int) -> int:
    """Return the least size from ``least`` on that is a product of 2, 3 and 5.

    Examples
    --------
    >>> quick_size(7), quick_size(241)
    (8, 243)
    """
    size = max(least, 1)
    while True:
        rest = size
        for factor in QUICK_FACTORS:
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return size
        size += 1


def height_noise(elevation: FloatArray) -> float:
    """Return the noise that heights show by themselves: what no slope and no even curve explains.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]

    Returns
    -------
    float
        Standard deviation from cell to cell, small forms of the ground included; infinite where no nine cells are
        known together. [m]

    References
    ----------
    Immerkaer (1996), Fast noise variance estimation, Computer Vision and Image Understanding 64:300-302 (value from
    memory): the mean size of a mask that is blind to planes and even curves, whose weights have a norm of 6.

    Examples
    --------
    >>> noise = np.random.default_rng(1).normal(0.0, 0.2, (200, 200))
    >>> round(height_noise(0.03 * np.add.outer(np.arange(200.0), np.arange(200.0)) + noise), 2)
    0.2
    """
    across = elevation[:, :-2] - 2.0 * elevation[:, 1:-1] + elevation[:, 2:]
    left = np.abs(across[:-2] - 2.0 * across[1:-1] + across[2:])
    left = left[np.isfinite(left)]
    return float(left.mean()) * np.sqrt(0.5 * np.pi) / 6.0 if left.size else np.inf
