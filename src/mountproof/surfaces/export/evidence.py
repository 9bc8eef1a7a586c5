"""What the answer to the contacts carries for the exports and the pictures."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from mountproof.geometry.closing import VertexGaps
    from mountproof.occlusion.sites import Sited, SiteTable
    from mountproof.occlusion.view import OcclusalView


class ContactEvidence(Protocol):
    """The arrays behind the answer to the contacts."""

    @property
    def views(self) -> tuple[OcclusalView, OcclusalView]:
        """Upper and lower, with the sites in the order of their numbers."""

    @property
    def band_edges_mm(self) -> tuple[float, ...]:
        """Upper limits of the bands of gap, rising, at most five."""

    @property
    def table(self) -> SiteTable:
        """Tooth pairs and sites at first contact."""

    @property
    def sited(self) -> Sited:
        """The closing map with its surfaces, the lower in the pose of the record."""

    @property
    def vertex_gaps(self) -> VertexGaps:
        """Gap along closure of every vertex, at the pose of the record."""

    @property
    def upper_from_lower(self) -> NDArray[np.float64]:
        """Pose of the record, (4, 4)."""
