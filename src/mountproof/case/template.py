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
#course = "spring A"                # where several people mount the same casts: one code for all of them
#note = "No symptoms; wear of the upper front teeth."
#mounted_on = "record 1"            # the record the lower cast was mounted on, as named under [records]
#record_repeat_mm = 0.15            # SD of your CR records at a condyle, one axis, pooled over your own cases
#record_repeat_dof = 24             # degrees of freedom behind it: records less cases it was pooled over
#visit_repeat_mm = 0.1              # what another visit adds to it, one axis (SD between visits)

[dentition]
numbering = "iso3950"               # "iso3950": 11 to 48; "universal": 1 to 32
#missing = [18, 28, 38, 48]         # teeth that are not there
#implants = [46]                    # teeth that are implant crowns

#meant_free = [47]                  # teeth that are meant not to hold a foil at light closure
#give_um = 20                       # how far a tooth gives under the foil at light closure

# The articulator, measured with a ruler or caliper.
#[instrument]
#name = "no. 2"                     # what you call it
#condyles = "arcon"                 # condylar elements on the lower member: "arcon"; on the upper: "nonarcon"
#intercondylar_mm = "110 +- 1"      # from one hinge point to the other
#play_mm = 0.03                     # play of the condylar elements when locked

# Between which ends it can be set, and in which steps: from its own scales or its maker's sheet. Nothing is known of
# any product.
#[instrument.takes]
#inclination = { lowest_deg = -20, highest_deg = 60, step_deg = 5 }
#lateral = { lowest_deg = 0, highest_deg = 30, step_deg = 5 }        # lateral angle (Bennett angle)
#shift = { lowest_mm = 0, highest_mm = 1.5, step_mm = 0.1 }          # immediate shift

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

# What the articulator is set to, as you read it off or set it. Protrusive and lateral records, where there are any, go
# before it; what stands here is shown as typed, never as measured.
#[settings]
#against = "instrument"             # the inclinations are against its own scale; or the name under [plane]
#table_deg = 10                     # angle of the incisal table, where one is used
#right = { inclination_deg = "35 +- 1", over_mm = 5, lateral_deg = 10, shift_mm = 0, source = "read off the scale" }
#left = { inclination_deg = "30 +- 1", over_mm = 5, lateral_deg = 10, shift_mm = 0 }

# The space wanted for a material, for: which pin reading gives it, and which teeth stay short?
#[space]
#pin_reads = 3                      # pin reading at which the space is looked at, in the pin's own marks
#wanted = [{ teeth = [16, 26, 36, 46], thickness_mm = 1.5 }, { teeth = [11, 21], thickness_mm = 1.0 }]

# What goes to the lab, for: mountproof paper my-case prescription. Whatever is left out, the paper names as missing.
#[prescription]
#scheme = "even contact behind; canines part the back teeth"     # how teeth meet and part, in your own words
#judged_at_pin = 0                  # pin reading at which the work is judged
#ovd_change_mm = 0                  # change of the vertical dimension; 0 leaves it
#ovd_change_at = "incisors"         # or "first molars", "pin"
#allowed_deviation_mm = 0.1         # how far the work may be off at the pin
#do_not_alter = ["the master casts", "upper front teeth"]
#no_new_material = false            # true where nothing is restored, so that [space] asks for no thickness
#[[prescription.contacts]]          # teeth that are wanted to touch
#teeth = [15, 16, 25, 26]
#relation = "CR"                    # or "MIP"
#closure = "light"                  # or "firm"
#[[prescription.verified]]          # what was looked at, by whom and when
#what = "mounting"
#who = "QP"
#on = 2026-03-03
# Planned steps that cannot be taken back, with the days of the checks that only a person can make. step is one of:
# "shaping enamel", "crown preparation", "fixed work at another OVD". Where no reversible trial is possible, say why in
# no_reversible_trial instead.
#[[prescription.steps]]
#step = "shaping enamel"
#teeth = [15, 45]
#duplicate_trial = 2026-03-03       # tried on duplicate casts
#reversible_trial = 2026-03-04      # began a trial that can be taken away again
#reversible_with = "a removable splint"
#consent = 2026-03-04               # the patient agreed to this step
# What a change may take, and how it is tried on duplicates of the scans. Budgets are the clinician's own: where there
# is none, no limit is claimed. Never assume how thick enamel is: at a fissure it can be a fifth of what a probe
# suggests.
#[change]
#budgets = [{ teeth = [15, 45], most_mm = 0.3 }]        # most that may come off each tooth, across the surface
#excluded = [{ teeth = [24], reason = "worn through to dentine" }]      # teeth that keep their shape
#restored = [36]                    # teeth with a restoration: they keep their shape unless the next line is true
#reshape_restored = false           # true when restorations may be reshaped as well
#reshape = "both"                   # who is reshaped: "both" (half each), "upper" or "lower"
#step_mm = 0.05                     # what one round takes off, across the surface
#stop = { at = "mip", most_rounds = 40 }        # ends at "mip", "front" (front teeth meet), or "pin" with pin_mm = 0.5
#branches = [{ name = "upper only", after = 3, reshape = "upper" }]     # another way: 3 rounds kept, then so
#most_off_mm = 0.4                  # the same for every tooth without a budget of its own
#most_on_mm = 0.6                   # most that may be added to any tooth, along closure
#fill = true                        # the trial ends by building up, on the duplicates, what stays open
# Your own limits for leaving, subtracting, adding, moving, operating; without one a number is told, nothing of it.
#[change.means]
#leave_open_mm = 0.5                # most that first contact may stay open over MIP, at the pin
#subtract_teeth = 6                 # most teeth that may lose something
#move_mm = 1.5                      # most that one tooth may be moved across the arch
#operate_mm = 3                     # most that a whole arch may be moved, or widened each side, across
#overjet_mm = 4                     # most overjet with which front teeth can still be made to meet
#seen = [{ teeth = [16, 17], third = "inner" }] # by eye, where the lower cusp stands: "inner", "middle", "outer"

# How the casts are pushed together into MIP, for the slide from scans.
#[push]
#ahead_mm = 60                      # where the push takes hold at first contact: ahead of the hinge axis,
#above_mm = -37                     # above it (below is minus),
#right_mm = 0                       # to the patient's right of the middle
#forward_deg = 0                    # how far it leans forward from straight up
#right_deg = 0                      # how far it leans to the patient's right
#friction = 0.2                     # coefficient of friction between the casts

# The caliper. Its scatter decides how sure every answer is.
[caliper]
#resolution_mm = 0.05               # smallest step it shows
#sd_mm = 0.045                      # standard deviation of one reading, from ten readings of one distance
#block_mm = 10.00                   # a block of known thickness ...
#block_reads_mm = 10.00             # ... and what the caliper shows on it

# What was checked on the casts before they were mounted.
#[casts]
#seats_by_hand = 1                  # ways in which they come to rest by hand in MIP: 1 is a firm seat, more rock
#impression_opening_mm = 25         # how wide the mouth stood open for the lower impression
# Widths across an arch, with the same caliper in the mouth and on the cast. One block a width.
#[[casts.widths]]
#arch = "upper"
#between = [16, 26]                 # the two teeth
#in_mouth_mm = [52.30, 52.35]       # every reading
#on_cast_mm = [52.20, 52.20]
# Another scan of the same arch, copied into this folder, to be held against the one under [[scans]].
#[[casts.other_scans]]
#arch = "upper"
#file = "upper_again.stl"
#unit = "mm"
#shows = "another cast"             # or "the same cast again", "the mouth"
#lies_alike = true                  # true when it lies in the same coordinates; else three or more points seen in both:
#points = [{ name = "cusp of 16", scan = [21.4, 3.0, -8.2], other = [18.2, 1.1, -7.9] }]
#taken = 2026-03-02

# The facebow transfer, and how the upper cast stands on the instrument.
#[facebow]
#axis = "ear rods"                  # or "located by opening and closing", "points measured on the skin",
#                                     "average lengths, no facebow"
#axis_u_mm = 4                      # how well the axis is known, one coordinate (SD)
#front_height_mm = 61.0             # incisal edge over the base of the instrument
#right_height_mm = 66.5             # cusp of the right molar over it
#left_height_mm = 66.0              # cusp of the left molar over it
#front_to_molars_mm = 40            # incisal edge back to the line between these two cusps, seen from above
#between_molars_mm = 54             # between these two cusps
#height_sd_mm = 0.1                 # standard deviation of one of these heights
#photo_cant_deg = 0.5               # slope of the upper teeth in a photograph; positive: lower on the patient's right
#photo_u_deg = 0.5                  # how well that slope is known (SD)

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

# A record with more to it has a block of its own: where it bears (three or more stops, not in a line), teeth that
# went through it and met, and its scan.
#[records."record 2"]
#kind = "CR"
#stops = [{ ahead_mm = 60, right_mm = 25, tooth = 16 }, { ahead_mm = 60, right_mm = -25 }]
#perforated_at = [17]
#[records."record 2".scan]
#file = "record2.stl"               # copied into this folder
#unit = "mm"
#shows = "the record"               # or "the casts joined by it"
#lies_on = ["upper"]                # casts whose own scans it lies on already; else three or more points of each cast:
#points = [{ name = "cusp of 16", arch = "upper", cast = [21.4, 3.0, -8.2], record = [18.2, 1.1, -7.9] }]

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
#material = "mounting stone, bag 7" # what you call it
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

# Checks of the mounting beside pin, marks and foils. One block each; name the record as under [records].
#[proof]
#other_cases_looked_at = 6          # other cases on this instrument, looked at for the same pattern
#other_cases_alike = 5              # those of them that are off in the same way
#[[proof.seatings]]                 # a record tried on the mounted casts
#record = "record 1"
#found = "stands off"               # or "seats fully", "rocks"
#where = "left"                     # or "right", "front", "back", "evenly"
#[[proof.split_casts]]              # gaps around a split cast, with a record in that was not used to mount
#record = "record 1"
#gaps = [{ ahead_mm = 60, right_mm = 25, gap_mm = 0.15 }]     # at three or more places; or holds_um, passes_um
#gap_sd_mm = 0.02                   # standard deviation of reading one gap
#[[proof.condyle_gaps]]             # how far the condylar elements stood from their stops
#record = "record 1"
#right_mm = 0
#left_mm = 0.2
#u_mm = 0.05
#[[proof.attempts]]                 # every mounting of this case, in order, kept or not
#date = 2026-03-02
#record = "record 1"
#kept = true                        # true for the one that stands now
#why = "the second record agreed"

# What the mouth showed afterwards. One block a visit, delivery or months later.
#[[followups]]
#date = 2026-05-04
#delivered = "provisional"          # or "device", "final"
#minutes = 12                       # how long it was adjusted in the mouth
#adjusted = [{ tooth = 16, um = 40 }]
#first_contact = [15]               # met first in CR, before anything was adjusted
#thickness_um = 8                   # the foil of these two lists
#held = [15, 45]
#free = [24]
#others_free = false                # true where it came free at every tooth not named
#visit = "2"                        # visit of the CR records taken then, as under [records]

# Few teeth or none: how far a record base gives, the tip of a tracing, an index over implants.
#[few_teeth]
#index_fits = true                  # the index over the implants was checked and fits
#tracing = [{ ahead_mm = 0.1, right_mm = -0.1, sitting = "first" }]     # where the tip came to lie, every time
#[[few_teeth.pushes]]
#arch = "lower"                     # the arch that carries the base
#pair = "UA-LA"                     # the marks measured between
#at_rest_mm = 42.60
#pushed_right_mm = 42.75
#pushed_left_mm = 42.50
#pressed_mm = 42.30

# How much your own steps scatter (SD, mm), where your cases tell; whatever is left out is assumed and shown as such.
#[doubt]
#material_mm = 0.05                 # the material of a record keeps the casts apart
#seat_mm = 0.08                     # a record finds its seat, at a stop
#facebow_right_mm = 3               # the right hinge point, one coordinate
#facebow_left_mm = 3
#facebow_shared = 0.5               # how alike both hinge points err, from 0 to 1
#stabilised = true                  # casts tied together with sticks or wax while the stone set
#luting_mm = 0.06                   # what luting and setting move, at the last teeth
#stone_mm = 0.01                    # what the stone under the lower cast lifts
#plate_mm = 0.02                    # a mounting plate put back
#casts_mm = 0.05                    # errors of the casts, where they meet
#scan_mm = 0.03                     # errors of two scans, where they meet
#registration_mm = 0.05             # the scan of a record holds two scans together
#source = { luting_mm = "own 14 cases" }

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
