"""The made-up casts: labels, closed shells, frame, density."""

from __future__ import annotations

import numpy as np
import pytest

from mountproof.phantom.arch import PhantomArch, build_arch, teeth_of

UPPER = (17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27)
LOWER = (47, 46, 45, 44, 43, 42, 41, 31, 32, 33, 34, 35, 36, 37)


@pytest.fixture(scope="module", params=["upper", "lower"])
def cast(request: pytest.FixtureRequest) -> tuple[str, PhantomArch]:
    return request.param, build_arch(request.param, 60_000)


def test_every_tooth_is_labelled_once(cast: tuple[str, PhantomArch]) -> None:
    arch, built = cast
    expected = UPPER if arch == "upper" else LOWER
    assert teeth_of(arch) == expected  # type: ignore[arg-type]
    assert set(np.unique(built.teeth).tolist()) == {0, *expected}
    assert built.faces.dtype == np.int32
    assert built.teeth.shape == (len(built.faces),)
    # No vertex belongs to two labels: every label is a shell of its own.
    owner = np.full(len(built.vertices_mm), -1)
    for label in np.unique(built.teeth):
        mine = np.unique(built.faces[built.teeth == label])
        assert (owner[mine] == -1).all()
        owner[mine] = label


def test_every_shell_is_closed_and_wound_outwards(cast: tuple[str, PhantomArch]) -> None:
    _, built = cast
    f = built.faces.astype(np.int64)
    n = len(built.vertices_mm)
    directed = np.concatenate([f[:, 0] * n + f[:, 1], f[:, 1] * n + f[:, 2], f[:, 2] * n + f[:, 0]])
    assert len(np.unique(directed)) == len(directed)
    there, back = directed // n, directed % n
    assert np.isin(back * n + there, directed).all()
    for label in np.unique(built.teeth):
        t = built.vertices_mm[f[built.teeth == label]]
        volume = np.einsum("ij,ij->", t[:, 0], np.cross(t[:, 1], t[:, 2])) / 6.0
        assert volume > 100.0, f"{label}: {volume} mm3"


@pytest.mark.parametrize("triangles", [20_000, 85_000, 214_000, 600_000])
def test_density_is_what_was_asked_for(triangles: int) -> None:
    for arch in ("upper", "lower"):
        assert abs(len(build_arch(arch, triangles).faces) - triangles) < 0.02 * triangles


def test_frame_is_the_average_skull_of_the_demo_case(cast: tuple[str, PhantomArch]) -> None:
    # common practice, no source: incisors near x = 92, canines 84, first molars (60, +-25), second (50, +-28).
    arch, built = cast
    places = {1: (92.0, 4.3), 3: (84.0, 17.0), 6: (61.0, 25.0), 7: (51.0, 28.0)}
    for tooth in teeth_of(arch):  # type: ignore[arg-type]
        if tooth % 10 not in places:
            continue
        v = built.vertices_mm[np.unique(built.faces[built.teeth == tooth])]
        # Molars by their whole crown, the others by their edge or tip.
        depth = 6.0 if tooth % 10 >= 6 else 2.0
        edge = v[v[:, 1] < v[:, 1].min() + depth] if arch == "upper" else v[v[:, 1] > v[:, 1].max() - depth]
        x, z = places[tooth % 10]
        right = tooth // 10 in (1, 4)
        # The lower teeth bite about half a tooth further forward and inside the upper ones.
        room = 3.0 if arch == "upper" else 5.0
        assert abs(edge[:, 0].mean() - x) < room
        assert abs(edge[:, 2].mean() - (z if right else -z)) < room
    up = built.vertices_mm[:, 1]
    assert (up.min() > -43.5) if arch == "upper" else (up.max() < -33.0)


def test_what_cannot_be_built_is_refused() -> None:
    with pytest.raises(ValueError, match="arch"):
        build_arch("left")  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="5000"):
        build_arch("upper", 100)


def test_building_twice_gives_the_same_bits() -> None:
    a, b = build_arch("lower", 30_000), build_arch("lower", 30_000)
    assert a.vertices_mm.tobytes() == b.vertices_mm.tobytes()
    assert a.faces.tobytes() == b.faces.tobytes()
