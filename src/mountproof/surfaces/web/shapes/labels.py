"""Short names of the entries of a case, for the forms that ask for them."""

from __future__ import annotations

from mountproof.said import term

#: Ends of names that say the unit, which stands beside the box.
_UNITS = (
    "_ml_per_100g", "_g_per_ml", "_percent", "_mm2", "_mm", "_deg", "_um", "_ml", "_min", "_g", "_s", "_c",
)  # fmt: skip

#: Labels where the name of the entry is not what a person would call it, by the end of its path.
_LABELS: dict[str, str] = {
    "schema_version": "version of the file",
    "by": "measured by",
    "lab": "measured at",
    "dentition.numbering": "tooth numbers",
    "dentition.missing": "missing teeth",
    "dentition.implants": "implant crowns",
    "instrument.name": "articulator",
    "instrument.condyles": "condylar elements",
    "instrument.intercondylar_mm": "between the hinge points",
    "instrument.play_mm": "play when locked",
    "pin.kind": "kind of pin",
    "pin.ahead_mm": "hinge to pin, forward",
    "pin.below_mm": "hinge to pin tip, down",
    "pin.mm_per_mark": "one mark",
    "pin.counts": "numbers run",
    "pin.zero_reads": "reads with members parallel",
    "pin.table_slope_deg": "slope of the table",
    "pin.calibration": "blocks under the pin",
    "calibration.*.block_mm": "block",
    "calibration.*.reads": "scale shows",
    "plane.name": "reference plane",
    "plane.tilt_deg": "tilt of the plane",
    "caliper.resolution_mm": "smallest step",
    "caliper.sd_mm": "SD of one reading",
    "caliper.block_mm": "known block",
    "caliper.block_reads_mm": "caliper shows on it",
    "marks.places": "marks",
    "marks.states": "states of the casts",
    "marks.readings_mm": "distances between marks",
    "marks.reseat_mm": "one record put back several times",
    "marks.reseat_record": "which record was put back",
    "teeth_at": "where teeth stand",
    "from_hinge_mm": "from the hinge axis",
    "u_mm": "standard uncertainty",
    "above_mm": "above the hinge axis",
    "ahead_mm": "ahead of the hinge axis",
    "right_mm": "to the patient's right",
    "bench.sheet": "product sheet of the stone",
    "sheet.water_ml_per_100g": "water for 100 g of powder",
    "sheet.setting_expansion_percent": "setting expansion",
    "sheet.powder_density_g_per_ml": "density of the powder",
    "sheet.mix_s": "mixing",
    "sheet.work_min": "work within",
    "sheet.set_min": "initial set",
    "sheet.release_min": "may be released after",
    "bench.powder_g": "powder",
    "bench.water_ml": "water",
    "bench.base_area_mm2": "area of the base",
    "bench.volume_ml": "volume to fill",
    "bench.mean_gap_mm": "mean gap to the plate",
    "bench.gaps": "gaps at places of the base",
    "gaps.*.gap_mm": "gap",
    "bench.luted_at": "luted at",
    "bench.powder_met_water": "powder met water",
    "bench.hands_off": "hands off",
    "bench.released": "released",
    "bench.room_c": "room",
    "pin_readings": "readings of the pin",
    "pin_readings.*.reads": "pin reads",
    "pin_readings.*.set_by_hand": "was set to this",
    "foils.*.thickness_um": "thickness of the foil",
    "foils.*.drags": "dragged",
    "foils.*.free": "came free",
    "foils.*.others_free": "free at all others",
    "foils.*.where": "tried",
    "scans.*.teeth_file": "file of tooth numbers",
    "scans.*.sides_compared": "sides compared with the patient",
    "placement.frame_from_scan": "matrix into the frame",
    "placement.hinge_distances": "distances from the hinge points",
    "placement.distance_sd_mm": "SD of a distance",
    "placement.average": "by average anatomy",
    "placement.with_other_arch": "in the coordinates of the other arch",
    "scan": "in the scan",
    "from_right_hinge_mm": "from the right hinge point",
    "from_left_hinge_mm": "from the left hinge point",
    "from_third_point_mm": "from the third point",
    "records.*.upper_from_lower": "scanned relation",
    "records.*.relation_in": "relation is written in",
    "mounted_on": "mounted on",
    "record_repeat_mm": "how well your records repeat",
    "limits.records_at_condyle": "records at a condyle",
    "limits.records_at_incisors": "records at the incisors",
    "limits.reseat_sd": "scatter of re-seating",
    "limits.movement_during_set": "movement during set",
    "limits.tilt_during_set": "tilt during set",
    "limits.pin_found_minus_predicted": "pin found against predicted",
    "limits.pin_opening_u": "uncertainty of the pin opening",
    "limits.water_powder_deviation": "water against the product sheet",
    "limits.gap_in_one_pour": "stone poured at once",
    "limits.lift_of_stone": "lift by setting",
    "limits.stop_amplification": "stops of the record",
    "limits.foil_disagreement": "foils that differ",
    "limits.scan_overlap": "overlap of scans",
    "limits.axis_cost": "cost of a wrong hinge axis",
    "limits.vertical_change": "change of vertical dimension",
    "decent": "agrees up to",
    "redo": "does not agree above",
    "source": "where it comes from",
}


def label(path: str) -> str:
    """Return the short name of an entry: the longest end of its path that has one, else its own name in words."""
    parts = path.split(".")
    for at in range(len(parts)):
        known = _LABELS.get(".".join(parts[at:]))
        if known is not None:
            return term(known)
    name = next(part for part in reversed(parts) if part != "*")
    for ending in _UNITS:
        if name.endswith(ending):
            name = name.removesuffix(ending)
            break
    return term(name.replace("_", " "))
