"""The five bands: apart in grey, apart for every eye, apart by pattern alone."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from mountproof.surfaces.palette import BANDS, HOLE, TOOTH, band_words, hexadecimal
from mountproof.surfaces.report.raster import as_svg, paint, swatch

#: Machado, Oliveira and Fernandes 2009, IEEE Trans Vis Comput Graph 15(6):1291-1298, severity 1.0, linear RGB.
DEFICIENT = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
    "none": np.eye(3).tolist(),
}


def _linear(rgb: np.ndarray) -> np.ndarray:
    """sRGB (IEC 61966-2-1) to linear light."""
    c = np.asarray(rgb, dtype=float) / 255.0
    return np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)


def _lab(linear: np.ndarray) -> np.ndarray:
    """CIELAB under D65 (CIE 15, ISO/CIE 11664-4) of linear sRGB."""
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )
    t = np.clip(linear, 0.0, 1.0) @ to_xyz.T / np.array([0.95047, 1.0, 1.08883])
    f = np.where(t > 216 / 24389, np.cbrt(t), (24389 / 27 * t + 16) / 116)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], -1)


def test_the_lab_route_gives_known_values() -> None:
    # White is (100, 0, 0) by definition; sRGB red is L 53.24, a 80.09, b 67.20 (textbook value, from memory).
    assert _lab(_linear(np.array([255, 255, 255]))) == pytest.approx([100, 0, 0], abs=0.02)
    assert _lab(_linear(np.array([255, 0, 0]))) == pytest.approx([53.24, 80.09, 67.20], abs=0.05)


@pytest.mark.parametrize("eye", DEFICIENT)
def test_bands_rise_in_lightness_in_equal_steps_for_every_eye(eye: str) -> None:
    light = _lab(_linear(np.array([*(b.rgb for b in BANDS), TOOTH])) @ np.array(DEFICIENT[eye]).T)[:, 0]
    assert (np.diff(light) > 9.0).all(), light
    if eye == "none":
        assert np.diff(light[:5]) == pytest.approx([15.0] * 4, abs=0.5)


@pytest.mark.parametrize("eye", DEFICIENT)
def test_no_two_bands_look_alike(eye: str) -> None:
    lab = _lab(_linear(np.array([*(b.rgb for b in BANDS), TOOTH])) @ np.array(DEFICIENT[eye]).T)
    apart = np.linalg.norm(lab[:, None] - lab[None, :], axis=2)[np.triu_indices(len(lab), 1)]
    assert apart.min() > 10.0


def test_printed_bands_keep_their_order_in_grey() -> None:
    flat = [swatch(band, 12.0, 12.0).astype(float) @ [0.2126, 0.7152, 0.0722] for band in BANDS]
    means = [float(f.mean()) for f in flat]
    assert (np.diff(means) > 18.0).all(), means


def test_shading_never_turns_a_band_into_its_neighbour() -> None:
    shades = []
    for band in BANDS:
        both = []
        for light in (1, 255):
            shade = np.full((40, 40), light, dtype=np.uint8)
            flat = band._replace(pattern="solid")
            both.append(float(_lab(_linear(paint(shade, np.zeros_like(shade), (flat,), 4.0)))[..., 0].mean()))
        shades.append(both)
    for (_, bright), (dark, _) in pairwise(shades):
        assert bright < dark


def test_patterns_differ_by_how_much_ink_they_lay_and_where() -> None:
    marks = []
    for band in BANDS:
        pixels = swatch(band, 20.0, 20.0)
        inked = (
            (pixels == np.array(band.ink)).all(axis=2) if band.pattern != "solid" else np.zeros((240, 240))
        )
        marks.append(float(inked.mean()))
    assert len({band.pattern for band in BANDS}) == 5
    assert marks[0] == 0.0
    assert min(marks[1:]) > 0.01
    # Line patterns lay clearly more ink than dots, dots more than sparse dots.
    assert marks[1] > marks[2] > marks[3] > marks[4]


def test_pictures_show_band_hole_tooth_and_paper() -> None:
    shade = np.array([[0, 255], [255, 255]], dtype=np.uint8)
    band = np.array([[255, 255], [0, 255]], dtype=np.uint8)
    unknown = np.array([[False, False], [False, True]])
    pixels = paint(shade, band, BANDS, 1.0, unknown=unknown)
    assert pixels.shape == (12, 12, 3)
    assert tuple(pixels[0, 0]) == (255, 255, 255)
    assert tuple(pixels[0, 11]) == pytest.approx(TOOTH, abs=4)
    assert tuple(pixels[11, 0]) == pytest.approx(BANDS[0].rgb, abs=4)
    assert {tuple(c) for c in pixels[6:, 6:].reshape(-1, 3)} <= {HOLE.rgb, HOLE.ink}


def test_pixels_survive_their_wrapping() -> None:
    import base64
    import io
    import re

    from PIL import Image

    pixels = swatch(BANDS[1], 3.0, 2.0)
    link = re.search(rb"base64,([^\"]+)", as_svg(pixels))
    assert link is not None
    with Image.open(io.BytesIO(base64.b64decode(link.group(1)))) as image:
        assert (np.asarray(image) == pixels).all()


def test_words_of_the_bands() -> None:
    assert [w.long for w in band_words((0.04, 0.2))] == ["up to 40 µm, touching included", "40 to 200 µm"]
    assert [w.short for w in band_words((0.05, 0.5, 1.0))] == ["up to 0.05", "0.05 to 0.5", "0.5 to 1"]
    with pytest.raises(ValueError, match="bands"):
        band_words((1, 2, 3, 4, 5, 6))


def test_colours_as_text() -> None:
    assert hexadecimal((1, 171, 16)) == "#01ab10"
