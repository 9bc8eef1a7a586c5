"""Which way an incline faces, in words, on both sides and in both arches."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.occlusion.incline import facing, tooth_frames
from mountproof.teeth import Arch, is_posterior, mirrored, right_to_left
from occlusion.made_arch import row_of_blocks


@pytest.mark.parametrize("arch", ["upper", "lower"])
def test_words_by_direction(arch: Arch) -> None:
    v, f, t = row_of_blocks(arch, list(right_to_left(arch)))
    frames = tooth_frames(v, f, t, arch)
    assert set(frames) == set(right_to_left(arch))
    towards = np.array([0.0, 1.0 if arch == "lower" else -1.0, 0.0])
    for tooth, frame in frames.items():
        assert frame.occlusal == pytest.approx(towards, abs=0.02)
        cheek = "buccal" if is_posterior(tooth) else "labial"
        middle = v[f[t == tooth]].mean(axis=(0, 1))
        # From the tooth's middle to its mesial neighbour (the other central incisor is mesial of a central incisor).
        mesial = next(
            other for other in (mirrored(tooth) if tooth % 10 == 1 else tooth - 1,) if other in frames
        )
        way = v[f[t == mesial]].mean(axis=(0, 1)) - middle
        way /= np.linalg.norm(way)
        assert facing(frame, tooth, (towards + way) / np.sqrt(2)) == "mesial"
        assert facing(frame, tooth, (towards - way) / np.sqrt(2)) == "distal"
        out = np.cross(way, towards)
        out *= np.sign(out[0]) if not is_posterior(tooth) else np.sign(out[2]) * np.sign(middle[2])
        assert facing(frame, tooth, (towards + out) / np.sqrt(2)) == cheek
        assert facing(frame, tooth, (towards - out) / np.sqrt(2)) == "lingual"
        both = towards + way - out
        assert facing(frame, tooth, both / np.linalg.norm(both)) == "mesial and lingual"
        assert facing(frame, tooth, towards) == "level"


def test_no_teeth_no_frames() -> None:
    v, f, t = row_of_blocks("upper", [11, 21])
    assert tooth_frames(v, f, np.zeros_like(t), "upper") == {}
