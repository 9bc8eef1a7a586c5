"""The arrays behind the answer to the contacts; pictures and vertex gaps are made when somebody asks for them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from mountproof.answers.picture_data import SlidePath
from mountproof.geometry.closing import VertexGaps, vertex_gaps
from mountproof.geometry.poses import Array
from mountproof.geometry.topology import border_edges
from mountproof.occlusion.site_table import Sited, SiteTable
from mountproof.occlusion.view import OcclusalView, frames, occlusal_view

#: Upper limits of the bands of gap in the pictures, mm.
BAND_EDGES_MM = (0.04, 0.1, 0.2, 0.5, 1.0)
#: Pixels across a picture: 0.08 mm on an arch of 65 mm.
_COLUMNS = 860


@dataclass(frozen=True)
class ContactEvidence:
    """Map, surfaces and sites of one pair of scans.

    ``sited``: the closing map with its surfaces, the lower in the pose of the record; ``table``: tooth pairs and sites
    at first contact; ``upper_teeth``, ``lower_teeth``: one number per face; ``upper_from_lower`` (4, 4): the record's
    pose; ``placed_how``: how each scan came into the frame; ``slide``: the way from first contact into MIP, if it was found.
    """

    sited: Sited
    table: SiteTable
    upper_teeth: NDArray[np.int32]
    lower_teeth: NDArray[np.int32]
    upper_from_lower: Array
    placed_how: tuple[str, str]
    band_edges_mm: tuple[float, ...] = BAND_EDGES_MM
    slide: SlidePath | None = None

    @cached_property
    def views(self) -> tuple[OcclusalView, OcclusalView]:
        """Upper and lower occlusal view with the gap still open at first contact, sites in the order of the pairs."""
        up, low, chart = self.sited.upper, self.sited.lower, self.sited.closing
        frame_up, frame_low = frames(
            up.vertices_mm,
            up.faces,
            self.upper_teeth,
            low.vertices_mm,
            low.faces,
            self.lower_teeth,
            columns=_COLUMNS,
        )
        pairs = self.table.pairs
        made = []
        for frame, surface, teeth, points in (
            (frame_up, up, self.upper_teeth, [p.upper_point_mm for p in pairs]),
            (frame_low, low, self.lower_teeth, [p.lower_point_mm for p in pairs]),
        ):
            made.append(
                occlusal_view(
                    frame,
                    surface.vertices_mm,
                    surface.faces,
                    teeth,
                    chart,
                    band_edges_mm=self.band_edges_mm,
                    closed_rad=self.table.closed_rad,
                    border=border_edges(surface.faces),
                    sites_mm=np.array(points).reshape(-1, 3),
                )
            )
        return made[0], made[1]

    @cached_property
    def vertex_gaps(self) -> VertexGaps:
        """Gap along closure of every vertex, at the pose of the record."""
        return vertex_gaps(self.sited.upper, self.sited.lower)
