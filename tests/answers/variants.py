"""The demo case with one thing wrong at a time (phantom.variants), read with the noise of its caliper by a seed.

Each maker returns what a bench would have written down: the table of marks, the pin, and the further checks that the
variant calls for, all from the truth of the phantom.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from answers import kestrel, scene_case
from mountproof.case.model import Case
from mountproof.case.scans import write_stl
from mountproof.phantom import kestrel as readings
from mountproof.phantom import truth, variants
from mountproof.phantom.arch import PhantomArch

_SD = readings.CALIPER_SD_MM
_STEP = readings.CALIPER_STEP_MM


def _read(exact: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    return np.round((exact + _SD * rng.standard_normal(exact.shape)) / _STEP) * _STEP


def poses(change: str = "") -> dict[str, np.ndarray]:
    """Poses of the lower by state, with what the variant changes."""
    out = {s: truth.pose(s) for s in "ABCDEFGHIJ"}
    if change == "D-3":
        out["F"] = variants.lifted_right(out["F"])
        out["G"] = truth.closed_by(out["F"], truth.closing_rad())
    if change == "D-4":
        x = variants.BASE_CONTACT
        out["G"] = truth.closed_by(out["G"], -x.stays_open_mm / 64.0)
    if change == "D-6":
        for state, number in (("B", 0), ("C", 1)):
            out[state] = truth.pose_of(variants.sagged_left(truth.RECORDS[number]))
        out["F"] = out["B"].copy()
        out["F"][1, 3] -= truth.SET_AWAY_MM
        out["G"] = truth.closed_by(out["F"], truth.closing_rad())
    return out


def table(at: dict[str, np.ndarray], rng: np.random.Generator) -> str:
    """The caliper table of marks at these poses, as text."""
    lines = ["pair " + " ".join(at)]
    for pair in readings.TABLE_MM:
        exact = np.array([truth.distance_mm(pair, pose) for pose in at.values()])
        lines.append("-".join(pair) + " " + " ".join(f"{v:.2f}" for v in _read(exact, rng)))
    return "\n".join(lines)


def variant(name: str, seed: int) -> Case:
    """The demo (``name`` empty) or one of D-2 to D-6 and D-8, read with this seed; D-7 needs files (``scanned``)."""
    rng = np.random.default_rng(seed)
    whole: dict[str, Any] = kestrel.data()
    at = poses(name)
    whole["marks"]["readings_mm"] = table(at, rng)
    closing = truth.closing_rad() - (variants.BASE_CONTACT.stays_open_mm / 64.0 if name == "D-4" else 0.0)
    rise = variants.curved_pin_mm(closing) if name == "D-5" else truth.pin_mm(closing)
    found = round((readings.PIN_OPENED_MM - rise + 0.05 * rng.standard_normal()) / 0.1) * 0.1
    whole["pin_readings"] = [
        {"state": "B", "reads": readings.PIN_OPENED_MM, "set_by_hand": True},
        {"state": "G", "reads": round(found, 2)},
    ]
    if name == "D-2":
        width = 2.0 * truth.SECOND_MOLAR_MM[2]
        mouth = _read(np.full(5, width), rng)
        cast = _read(np.full(5, width - variants.NARROWED_MM), rng)
        whole["casts"] = {
            "widths": [
                {
                    "arch": "lower",
                    "between": [47, 37],
                    "in_mouth_mm": [round(float(v), 2) for v in mouth],
                    "on_cast_mm": [round(float(v), 2) for v in cast],
                }
            ]
        }
    if name == "D-4":
        for foil in whole["foils"]:
            if foil["where"] == "mounting" and foil["relation"] == "CR":
                foil["held"] = []
    if name == "D-6":
        # a practice whose records repeat as those of this case do; record 4 is honest: the left condyle of the mounting
        # hangs below where it holds it, so that its element would have to pass its stop
        whole["record_repeat_mm"] = 0.05
        whole["record_repeat_dof"] = 24
        mounted = variants.sagged_left(truth.RECORDS[0])
        tried = {"record 2": variants.sagged_left(truth.RECORDS[1]), "record 4": truth.RECORDS[3]}
        gaps = []
        for record, held in tried.items():
            off = [held.right_mm[2] - mounted.right_mm[2], held.left_mm[2] - mounted.left_mm[2]]
            right, left = (round(float(-v + 0.05 * rng.standard_normal()), 2) for v in off)
            gaps.append({"record": record, "right_mm": right, "left_mm": left, "u_mm": 0.05})
        whole["proof"] = {
            "condyle_gaps": gaps,
            "seatings": [
                {"record": "record 1", "found": "seats fully"},
                {"record": "record 2", "found": "seats fully"},
                {"record": "record 4", "found": "stands off", "where": "left"},
            ],
        }
    if name == "D-8":
        front = ((84.0, 18.0), (89.0, 12.0), (92.0, 5.0), (92.0, -5.0), (89.0, -12.0), (84.0, -18.0))
        whole["records"] = whole.get("records", {})
        whole["records"]["record 1"] = {
            **whole["records"].get("record 1", {"kind": "CR"}),
            "stops": [
                {"ahead_mm": x, "right_mm": z, "tooth": tooth}
                for (x, z), tooth in zip(front, variants.FRONT_STOPS, strict=True)
            ],
        }
    return Case(**whole)


#: D-7, by what is wrong with the scans: what is done to both casts, whether tooth numbers lie beside them, and the lines
#: of the case that differ.
SCANS: dict[str, tuple[Callable[[PhantomArch], PhantomArch], bool]] = {
    "inch": (variants.in_inches, False),
    "metre": (lambda cast: cast._replace(vertices_mm=cast.vertices_mm / 1000.0), False),
    "mirrored": (variants.mirrored, True),
    "mirrored, no numbers": (variants.mirrored, False),
    "rewound": (lambda cast: variants.mirrored(cast, rewound=True), True),
    "rewound, no numbers": (lambda cast: variants.mirrored(cast, rewound=True), False),
    "swapped arches": (lambda cast: cast, True),
    "swapped arches, no numbers": (lambda cast: cast, False),
    "swapped sides": (lambda cast: cast._replace(teeth=_other_side(cast.teeth)), True),
    "in order": (lambda cast: cast, False),
    "in order, numbered": (lambda cast: cast, True),
}


def _other_side(teeth: np.ndarray) -> np.ndarray:
    """Tooth numbers with right and left exchanged: 1 and 2, 3 and 4 of the quadrants."""
    quadrant = np.array([0, 2, 1, 4, 3])[teeth // 10]
    return np.where(teeth > 0, 10 * quadrant + teeth % 10, 0)


def scanned(kind: str, folder: Path, more: str = "", compared: bool = False) -> Case:
    """D-7: the demo with its scans, given in one way wrongly (a key of ``SCANS``); its bench readings as they are."""
    change, numbered = SCANS[kind]
    names = {"upper": "lower", "lower": "upper"} if kind.startswith("swapped arches") else {}
    for name in ("upper", "lower"):
        made = change(scene_case.arch(name))
        given = names.get(name, name)
        write_stl(folder / f"{given}.stl", made.vertices_mm, made.faces, head=given)
        (folder / f"{given}_teeth.csv").write_text("\n".join(map(str, made.teeth.tolist())) + "\n")
    text = scene_case.case_text()
    if numbered:
        for name in ("upper", "lower"):
            text = text.replace(
                f'file = "{name}.stl"', f'file = "{name}.stl"\nteeth_file = "{name}_teeth.csv"'
            )
    if not compared:
        text = text.replace("sides_compared = true", "sides_compared = false")
    return scene_case.read(folder, text + more)


#: The cause that must come first, by variant; the demo's own record 3 stands out beside whatever else is wrong.
FIRST = {
    "": ("nothing", "other_left"),
    "D-2": ("cast_narrow",),
    "D-3": ("set_right",),
    "D-4": ("behind",),
    "D-5": ("pin",),
    "D-6": ("record_left",),
    "D-7": ("scans",),
    "D-8": ("stops",),
}
