"""The change told by foils, the slow way: every readings' probability on a grid of changes, gaps and gives.

Nothing of the fit is used: its model is written down again, with the general library's normal distribution.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

CONTACT_PART, CONTACT_SD, GAP_SD = 0.3, 0.010, 0.5
_CHANGES = np.linspace(-3.0, 3.0, 3001)


def likelihood(site, change, give):
    """Return the chance of one tooth's readings for each change (n,) in mm: a sum over gaps of 2 um and more."""
    edges = np.concatenate([np.linspace(0.0, 0.2, 101), np.linspace(0.2, 2.0, 91)[1:]])
    gap, width = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
    half = np.sqrt(2.0 / np.pi)
    density = CONTACT_PART * half / CONTACT_SD * np.exp(-0.5 * (gap / CONTACT_SD) ** 2)
    density = density + (1.0 - CONTACT_PART) * half / GAP_SD * np.exp(-0.5 * (gap / GAP_SD) ** 2)
    m, c = site.mouth, site.casts
    sunk = gap - (give if site.gives else 0.0)
    in_mouth = ndtr((m.high_mm - sunk) / m.sd_mm) - ndtr((m.low_mm - sunk) / m.sd_mm)
    on_casts = gap + change[:, None]
    held = ndtr((c.high_mm - on_casts) / c.sd_mm) - ndtr((c.low_mm - on_casts) / c.sd_mm)
    return held @ (density * width * in_mouth)


def posterior(sites, gives, sds, middle=70.0, count=35, rounds=3):
    """Return mean (3,) and covariance (3, 3) of down, pitch and roll, each beforehand normal with ``sds``.

    The grid is laid about the last round's mean, six of its standard deviations wide.
    """
    sds = np.asarray(sds)
    mean, width = np.zeros(3), 4.0 * sds
    for _ in range(rounds):
        axes = [np.linspace(m - w, m + w, count) for m, w in zip(mean, width, strict=True)]
        grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
        weight = np.zeros(len(grid))
        for give in gives:
            one = np.exp(-0.5 * np.sum((grid / sds) ** 2, axis=1))
            for site in sites:
                change = grid @ (1.0, site.ahead_mm - middle, site.right_mm)
                one = one * np.interp(change, _CHANGES, likelihood(site, _CHANGES, give))
            weight += one
        weight /= weight.sum()
        mean = weight @ grid
        off = grid - mean
        cov = (off * weight[:, None]).T @ off
        step = 2.0 * width / (count - 1)
        width = np.maximum(5.0 * np.sqrt(np.diag(cov)), 2.0 * step)
    return mean, cov
