"""Pictures of an answer as they travel."""

from __future__ import annotations

from mountproof.surfaces.pictures.plate import Grid, Mark, Plate
from mountproof.surfaces.pictures.svg import data_address
from mountproof.surfaces.web.wire import DrawingOut, DrawnOut, PixelsOut, TableOut


def drawing_out(plate: Plate) -> DrawingOut:
    """Return one picture with its table."""
    images = [*([plate.image] if plate.image is not None else []), *plate.more]
    return DrawingOut(
        name=plate.name,
        title=plate.title,
        alt=plate.alt,
        view=f"-4 -6 {plate.width + 8.0:.0f} {plate.height + 12.0:.0f}",
        pixels=[
            PixelsOut(url=data_address(one), x=one.x, y=one.y, width=one.width, height=one.height)
            for one in images
        ],
        marks=[_drawn(one) for one in plate.marks],
        table=_table(plate.table),
    )


def _drawn(one: Mark) -> DrawnOut:
    if one.d:
        return DrawnOut(look=one.look, d=one.d)
    x, y = round(one.x, 1), round(one.y, 1)
    return DrawnOut(look=one.look, text=one.text, x=x, y=y, size=one.size, anchor=one.anchor)


def _table(grid: Grid) -> TableOut:
    return TableOut(
        title=grid.title, columns=list(grid.columns), rows=[list(row) for row in grid.rows], note=grid.note
    )
