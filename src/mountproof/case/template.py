"""The case file that a new case begins with: every entry explained, nothing measured yet."""

from __future__ import annotations

from pathlib import Path

from mountproof.case.atomic import replace_file
from mountproof.case.dump import string
from mountproof.case.text_file import CASE_FILE
from mountproof.faults import Fault, FaultError
from mountproof.said import say

_TEXT = '''\
# A case: what was measured at the bench. Fill in what you have; leave out what you do not have yet.
# Entries that begin with # are not used: take the # away (also of the [heading] above) and put your own value.
# The values behind # are invented examples. Nothing you leave out is made up: answers say what they assumed.
# Lengths are in mm. Write 38.05 without quotation marks, or "38,05" with them; "110 +- 0.5" adds a standard
# uncertainty. Sides are the patient's. "Ahead" is forward of the hinge axis, "above" upward (below is negative).

schema_version = 1                  # version of this file; leave as it is
code = {code}                       # a case code, no patient name
#date = 2026-03-02                  # day of the measurements, year first
#lab = "Slate Lane Bench 3"         # where it was measured
#by = "QP"                          # who measured, initials or a code
#note = "No symptoms; wear of the upper front teeth."
#mounted_on = "record 1"            # the record the lower cast was mounted on, as named under [records]
#record_repeat_mm = 0.15            # SD of your CR records at a condyle, one axis, pooled over your own cases

[dentition]
numbering = "iso3950"               # "iso3950": 11 to 48; "universal": 1 to 32
#missing = [18, 28, 38, 48]         # teeth that are not there
#implants = [46]                    # teeth that are implant crowns

# The articulator, measured with a ruler or caliper.
#[instrument]
#name = "no. 2"                     # what you call it
#condyles = "arcon"                 # condylar elements on the lower member: "arcon"; on the upper: "nonarcon"
#intercondylar_mm = "110 +- 1"      # from one hinge point to the other
#play_mm = 0.03                     # play of the condylar elements when locked

# The incisal pin. Needed for: how far do I open the pin?
#[instrument.pin]
#kind = "straight"                  # "straight" slides along itself, "curved" along an arc about the hinge
#ahead_mm = "110 +- 0.5"            # hinge axis to the pin, forward, measured level
#below_mm = "62 +- 0.5"             # hinge axis down to the pin's tip, when the pin reads zero
#mm_per_mark = 1                    # millimetres from one mark of the scale to the next
#counts = "up on opening"           # or "down on opening": which way the numbers run as the pin is opened
#zero_reads = 0                     # what the scale shows with the members parallel
#table_slope_deg = 0                # slope of the table under the pin; positive rises forward
#calibration = [                    # two blocks of known thickness under the pin, and what the scale shows
#  { block_mm = 2.00, reads = 2.0 },
#  { block_mm = 6.00, reads = 6.0 },
#]

# Steps that this articulator asks for beside the usual ones, by a short name.
#[instrument.steps]
#magnets = { words = "Wipe the magnets clean", stage = "lower", gate = true, after = "luted" }
#  stage is one of: "upper", "between", "lower", "after"; before = "lower_mix" puts it in front of a step
#pin_back = { words = "Put table and pin back, screws finger-tight" }    # a usual step in your own words

# The plane that condylar angles are stated against.
#[plane]
#name = "axis-orbital"              # or "Frankfort", "Camper", "occlusal", "instrument"
#tilt_deg = 0                       # tilt against the instrument's horizontal; positive: its front is lower

# The caliper. Its scatter decides how sure every answer is.
[caliper]
#resolution_mm = 0.05               # smallest step it shows
#sd_mm = 0.045                      # standard deviation of one reading, from ten readings of one distance
#block_mm = 10.00                   # a block of known thickness ...
#block_reads_mm = 10.00             # ... and what the caliper shows on it

# Marks on the casts. Write each name on the cast. No spaces in a name; a hyphen joins the two names of a pair.
# Where it stands: { arch = "upper", ahead_mm = 52, above_mm = -20, right_mm = 34, u_mm = 0.5 }
#   or only its distance from the hinge axis, seen from the side: { arch = "upper", from_hinge_mm = 55.7 }
#   u_mm is the standard uncertainty of these lengths; right_mm is negative on the patient's left.
[marks.places]
UR = { arch = "upper" }             # upper right
UA = { arch = "upper" }             # upper front
UL = { arch = "upper" }             # upper left
LR = { arch = "lower" }
LA = { arch = "lower" }
LL = { arch = "lower" }

# States of the casts: the columns of the table. kind is one of: "MIP by hand", "record in",
# "record in, after set", "record out, first contact", "protrusive record in", "left lateral record in",
# "right lateral record in". Say which record, as named under [records]: { kind = ..., record = "record 1" }
[marks.states]
A = { kind = "MIP by hand" }                    # teeth together by hand, no record
B = { kind = "record in" }                      # record in place, before the stone
C = { kind = "record in, after set" }           # the same record, when the stone has set
D = { kind = "record out, first contact" }      # on the instrument, closed to the first contact
#E = { kind = "record in", record = "record 1", note = "second try" }

# Distances between marks in mm: a row a pair (upper mark, hyphen, lower mark), a column a state.
# Repeats are joined by /, such as 38.05/38.00/38.05; nothing read is -; decimal point or comma.
# Straight pairs show opening and tilt; add slanted ones (UR-LA, UL-LA) to see fore-aft, side and turning.
[marks]
readings_mm = """
pair    A       B       C       D
UR-LR   -       -       -       -
UA-LA   -       -       -       -
UL-LL   -       -       -       -
"""
# One record taken off and put back five times: a column a seating.
#reseat_record = "record 1"
#reseat_mm = """
#pair    1      2      3      4      5
#UR-LR   38.00  38.05  38.00  38.15  38.00
#UA-LA   42.55  42.65  42.55  42.60  42.70
#UL-LL   38.10  38.10  38.15  38.05  38.10
#"""

# Where teeth stand, seen from the side, for the table from pin to teeth.
#[teeth_at]
#incisors = { ahead_mm = 92, above_mm = -42, u_mm = 1 }
#"first molars" = { ahead_mm = 57, above_mm = -40 }

# The records, by name.
[records]
#"record 1" = { kind = "CR", material = "hard wax", visit = "first", note = "" }
#  kind is one of: "CR", "MIP", "protrusive", "left lateral", "right lateral"
#  upper_from_lower = [[..4..], [..4..], [..4..], [0, 0, 0, 1]] where the relation was scanned
#  relation_in = "scan coordinates" where that is as the scanner wrote it; "frame coordinates" where it is in the frame

# What the pin showed in a state, or what it was set to. One block a reading.
#[[pin_readings]]
#state = "D"                        # as named under [marks.states]
#reads = 0.0                        # in the pin's own marks
#set_by_hand = false                # true where the pin was set to this, not read

# Stone. Needed for: how much powder and water, and when may I touch it?
#[bench]
#powder_g = 116                     # powder weighed
#water_ml = 29                      # water used
#base_area_mm2 = 2400               # area of the base the stone stands on
#volume_ml = 53                     # volume to fill, where it was measured
#mean_gap_mm = 22                   # mean height of the gap between cast and plate
#gaps = [{ ahead_mm = 60, right_mm = 20, gap_mm = 22 }]   # height of the gap at places of the base
#luted_at = [{ ahead_mm = 90, right_mm = 0 }]             # where the casts were luted; three or more
#powder_met_water = "10:02"         # clock times, in quotation marks
#hands_off = "10:06"
#released = "10:47"
#room_c = 21                        # temperature of the room

# The product sheet of the stone, as printed on the bag.
#[bench.sheet]
#water_ml_per_100g = 24             # a ratio of 0.24 is 24 mL for 100 g
#setting_expansion_percent = 0.08
#powder_density_g_per_ml = 2.75
#mix_s = 40                         # mixing, as you do it
#work_min = 2.5                     # these three from powder meets water
#set_min = 5
#release_min = 45

# Every bowl of stone, by a name. Moments carry day and offset, so that nothing is lost over midnight or a change of
# the clock; they go before the three clock times of [bench].
#[pours]
#"lower 1" = { cast = "lower", number = 1, powder_met_water = 2026-03-02T10:02:00+01:00, by = "QP", note = "" }
#"lower 2" = { cast = "lower", number = 2, powder_met_water = 2026-03-02T10:30:00+01:00, release_min = 60 }
#  later: hands_off = 2026-03-02T10:06:00+01:00, released = 2026-03-02T10:47:00+01:00
#  where they differ from the product sheet: mix_s = 40, work_min = 2.5, set_min = 5, release_min = 45

# The steps of the mounting as you took them: met = true or false, when, by whom. A gate that is not met stays on the
# sheet. Usual steps: fork, upper_base, upper_space, upper_mix, upper_close, upper_wait; pin_back, home; record, luted,
# lower_base, pin_set, lower_mix, column, lower_close, lower_wait; marks_set, record_out, reading.
#[procedure]
#order = ["lower_base", "luted"]    # where you take them in another order
#[procedure.steps]
#luted = { met = true, at = 2026-03-02T09:50:00+01:00, by = "QP", note = "sticky wax, three sticks" }
#pin_set = { met = false, at = 2026-03-02T09:58:00+01:00, by = "QP" }
#column = { left_out = true, note = "one pour" }
#"bow checked" = { words = "Check the bow for cracks", stage = "upper", gate = true, met = true }

# Foil: which teeth held it, on which it dragged, on which it came free. One block a trial.
#[[foils]]
#where = "mouth"                    # or "mounting", "casts by hand"
#relation = "CR"                    # or "MIP"
#thickness_um = 8
#closure = "light"                  # or "firm"
#held = [15, 45]
#drags = [11]
#free = [24, 25]
#others_free = false                # true where it came free at every tooth not named

# Scans, copied into this folder. One block an arch.
#[[scans]]
#arch = "upper"
#file = "upper.stl"
#unit = "mm"                        # "mm", "cm", "inch", "metre", "um", "foot": the unit of the numbers in the file
#taken = 2026-03-02
#sides_compared = true              # one tooth that stands out was compared with the patient: right is right
#teeth_file = "upper_teeth.csv"     # a tooth number (ISO 3950) for each triangle, where there is one
# How the scan came into the frame, one of: frame_from_scan; landmarks (three or more, each with name, scan,
# ahead_mm, above_mm, right_mm, u_mm); hinge_distances (three or more, each with name, scan, from_right_hinge_mm,
# from_left_hinge_mm, from_third_point_mm; with third_point and distance_sd_mm); average (incisors, right_molar,
# left_molar: an assumption); with_other_arch = true (same coordinates as the other arch's scan).
#[scans.placement]
#frame_from_scan = [[1, 0, 0, 60.0], [0, 1, 0, -40.0], [0, 0, 1, 0.0], [0, 0, 0, 1]]

# Acceptance limits, only those you want to change; all of them stand on the page about the case file.
#[limits]
#reseat_sd = { decent = 0.05, redo = 0.08 }
'''


def template(code: str) -> str:
    """Return the text of a new case file with the case code ``code``; it reads as a case as it stands."""
    return _TEXT.replace("{code}", string(code), 1)


def write_template(folder: str | Path) -> Path:
    """Make a folder with a new case file in it and return the file; the case is called as the folder is.

    FaultError ``case.exists`` where there is a case file already (it is left as it is), ``case.not_written``
    where the folder cannot be made.
    """
    folder = Path(folder)
    file = folder / CASE_FILE
    if file.exists() or file.is_symlink():
        todo = say("Fill that one in, or name another folder")
        raise FaultError(
            [
                Fault(
                    "case.exists",
                    say("there is a {file} in this folder already", file=CASE_FILE),
                    todo,
                    str(folder),
                )
            ]
        )
    name = "".join(c if c.isprintable() else "-" for c in folder.resolve().name).strip()[:64].strip()
    replace_file(file, template(name or "case").encode(), None)
    return file
