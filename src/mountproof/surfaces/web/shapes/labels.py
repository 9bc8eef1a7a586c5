"""Short names of the entries of a case, for the forms that ask for them."""

from __future__ import annotations

from mountproof.said import term

#: Ends of names that say the unit, which stands beside the box.
_UNITS = (
    "_ml_per_100g", "_g_per_ml", "_percent", "_mm2", "_mm", "_deg", "_um", "_ml", "_min", "_g", "_s", "_c",
)  # fmt: skip

#: Labels where the name of the entry is not what a person would call it, by the end of its path.
_LABELS: dict[str, str] = {
    "schema_version": term("version of the file"),
    "by": term("measured by"),
    "lab": term("measured at"),
    "dentition.numbering": term("tooth numbers"),
    "dentition.missing": term("missing teeth"),
    "dentition.implants": term("implant crowns"),
    # Not in the words of the case file: these also are a unit and a reference plane.
    "instrument": term("articulator"),
    "instrument.name": term("articulator"),
    "instrument.condyles": term("condylar elements"),
    "instrument.intercondylar_mm": term("between the hinge points"),
    "instrument.play_mm": term("play when locked"),
    "pin.kind": term("kind of pin"),
    "pin.ahead_mm": term("hinge to pin, forward"),
    "pin.below_mm": term("hinge to pin tip, down"),
    "pin.mm_per_mark": term("one mark"),
    "pin.counts": term("numbers run"),
    "pin.zero_reads": term("reads with members parallel"),
    "pin.table_slope_deg": term("slope of the table"),
    "pin.calibration": term("blocks under the pin"),
    "calibration.*.block_mm": term("block"),
    "calibration.*.reads": term("scale shows"),
    "plane.name": term("reference plane"),
    "plane.tilt_deg": term("tilt of the plane"),
    "caliper.resolution_mm": term("smallest step"),
    "caliper.sd_mm": term("SD of one reading"),
    "caliper.block_mm": term("known block"),
    "caliper.block_reads_mm": term("caliper shows on it"),
    "marks": term("table of marks"),
    "marks.places": term("marks on the casts"),
    "marks.states": term("states of the casts"),
    "marks.readings_mm": term("distances between marks"),
    "marks.reseat_mm": term("one record put back several times"),
    "marks.reseat_record": term("which record was put back"),
    "teeth_at": term("where teeth stand"),
    "from_hinge_mm": term("from the hinge axis"),
    "u_mm": term("standard uncertainty"),
    "above_mm": term("above the hinge axis"),
    "ahead_mm": term("ahead of the hinge axis"),
    "right_mm": term("to the patient's right"),
    "bench.sheet": term("product sheet of the stone"),
    "sheet.water_ml_per_100g": term("water for 100 g of powder"),
    "sheet.setting_expansion_percent": term("setting expansion"),
    "sheet.powder_density_g_per_ml": term("density of the powder"),
    "sheet.mix_s": term("mixing"),
    "sheet.work_min": term("work within"),
    "sheet.set_min": term("initial set"),
    "sheet.release_min": term("may be released after"),
    "bench.powder_g": term("powder"),
    "bench.water_ml": term("water"),
    "bench.base_area_mm2": term("area of the base"),
    "bench.volume_ml": term("volume to fill"),
    "bench.mean_gap_mm": term("mean gap to the plate"),
    "bench.gaps": term("gaps at places of the base"),
    "gaps.*.gap_mm": term("gap"),
    "bench.luted_at": term("luted at"),
    "bench.powder_met_water": term("powder met water"),
    "bench.hands_off": term("hands off"),
    "bench.released": term("released"),
    "bench.room_c": term("room"),
    "pin_readings": term("readings of the pin"),
    "pin_readings.*.reads": term("pin reads"),
    "pin_readings.*.set_by_hand": term("was set to this"),
    "foils.*.thickness_um": term("thickness of the foil"),
    "foils.*.drags": term("dragged"),
    "foils.*.free": term("came free"),
    "foils.*.others_free": term("free at all others"),
    "foils.*.where": term("tried"),
    "scans.*.teeth_file": term("file of tooth numbers"),
    "scans.*.sides_compared": term("sides compared with the patient"),
    "frame_from_scan": term("matrix into the frame"),
    "hinge_distances": term("distances from the hinge points"),
    "distance_sd_mm": term("SD of a distance"),
    "average": term("by average anatomy"),
    "with_other_arch": term("in the coordinates of the other arch"),
    "scan": term("in the scan"),
    "from_right_hinge_mm": term("from the right hinge point"),
    "from_left_hinge_mm": term("from the left hinge point"),
    "from_third_point_mm": term("from the third point"),
    "records.*.upper_from_lower": term("scanned relation"),
    "records.*.relation_in": term("relation is written in"),
    "mounted_on": term("mounted on"),
    "record_repeat_mm": term("how well your records repeat"),
    "limits.records_at_condyle": term("records at a condyle"),
    "limits.records_at_incisors": term("records at the incisors"),
    "limits.reseat_sd": term("scatter of re-seating"),
    "limits.movement_during_set": term("movement during set"),
    "limits.tilt_during_set": term("tilt during set"),
    "limits.pin_found_minus_predicted": term("pin found against predicted"),
    "limits.pin_opening_u": term("uncertainty of the pin opening"),
    "limits.water_powder_deviation": term("water against the product sheet"),
    "limits.gap_in_one_pour": term("stone poured at once"),
    "limits.lift_of_stone": term("lift by setting"),
    "limits.stop_amplification": term("stops of the record"),
    "limits.foil_disagreement": term("foils that differ"),
    "limits.scan_overlap": term("overlap of scans"),
    "limits.axis_cost": term("cost of a wrong hinge axis"),
    "limits.vertical_change": term("change of vertical dimension"),
    "decent": term("agrees up to"),
    "redo": term("does not agree above"),
    "source": term("where it comes from"),
}


def label(path: str) -> str:
    """Return the short name of an entry: the longest end of its path that has one, else its own name in words."""
    parts = path.split(".")
    for at in range(len(parts)):
        known = _LABELS.get(".".join(parts[at:]))
        if known is not None:
            return known
    name = next(part for part in reversed(parts) if part != "*")
    for ending in _UNITS:
        if name.endswith(ending):
            name = name.removesuffix(ending)
            break
    return term(name.replace("_", " "))
