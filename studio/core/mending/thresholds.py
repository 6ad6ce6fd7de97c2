"""When is a line nearly what was meant? Every number of the good-pattern help, with its reason.

Each kind of advice has a dead zone below which the line counts as exact, and a ceiling above
which it counts as meant. Between the two the student is asked, never corrected. Lengths in
millimetres, angles in degrees, shares of a length. Where nothing else is said the numbers are
our own, tried on rendered paper and shaken shapes with known answers; common practice, no source.
"""

from __future__ import annotations

# What is looked at
LEAST_LINE_MM = 9.0  # the length of a line: in a shorter one advice is finer than a saw cuts
LEAST_EDGE_MM = 6.0  # a shorter side needs no ruler
MOST_LINES = 60  # the longest ones; a drawing with more is no hand's work
MOST_POINTS = 4_000  # of one line
STEP_MM = 0.25  # between the places at which a line is measured
MOST_STEPS = 1_600  # of one line; longer lines are measured more coarsely
LEAST_MOVE_MM = 0.05  # a mend that moves nothing further is none
MOST_MENDS = 24  # for one drawing
MOST_PIECE_POINTS = 5_000  # a larger piece takes the check seconds, and no hand draws it
MOST_WORK = 40_000  # points of all pieces that are measured, large pieces counted dearer
LITTLE_POINTS = 2_500  # a tracing of no more is looked at within a second

# What a reader cannot tell
READING_MM = 0.12  # a read photo is right to this (95 of 100 points); less is no fault of a hand
FLATTENING_MM = 0.02  # an exact curve becomes short lines as near as this

# The hand
SWING_MM = 0.06  # a swing to one side that is larger than what reading and flattening leave
LEAST_SWINGS = 5  # a bow has 3 stretches against a straight line, a wave 4: more is a tremor
SWING_EVERY_MM = 8.0  # a tremor swings at least once in so many millimetres
EVEN_WAVE_SHARE = 0.8  # of all swing in one even wave: that is an ornament
EVEN_WAVE_MM = 0.15
EVEN_WAVES = 3.0
EVEN_TEETH = 5  # so many short stretches of one length in a row are teeth
EVEN_TEETH_SHARE = 0.25  # … that differ by no more than this

# Corners
CORNER_DEG = 27.0  # beyond what the line bends anyway; shallower ones are part of a curve
CORNER_ARM_MM = 1.5
CORNER_FAR_MM = 5.0  # looked at from so far away …
CORNER_FAR_DEG = 24.0  # … a corner still turns by this; a wobble does not
TIP_MM = 0.8  # beside a corner ink runs together and rounds it

# Many short sides: a polygon whose corners turn too little to be seen as such
LEAST_SIDES = 8  # of a closed line; fewer turn so much that their corners are found
LEAST_SIDE_MM = 3.0
SIDES_TOLERANCES_MM = (0.45, 0.6)  # what straight strokes may leave of a hand's swing
SIDES_SURE_BOW = 0.2  # … where it is a circle or a polygon: few shaken circles bow so little
SIDES_MOST_BOW = 0.3  # of an arc's; most shaken polygons bow less, most shaken curves more

# Straight: use a ruler
STRAIGHT_MOST_MM = 0.8
STRAIGHT_MOST_SHARE = 0.025  # of the side's length; an arc that is meant rises more
BOW_SHARE = 0.01  # an even bow that rises more than this is a gentle arc
BOW_LEAST_MM = 0.3
BOW_EXPLAINS = 0.8  # share of the swing that one even bow explains
ARC_EXPLAINS = 0.95  # so even is no slip of a hand: then a flatter one is meant too
ARC_SHARE = 0.005
ARC_LEAST_MM = 0.2

# Square corners and parallel sides
ANGLE_EXACT_DEG = 0.8  # 0.12 mm off on both ends of a side of 15 mm
SQUARE_MOST_DEG = 4.0  # a corner of 85 degrees is meant
LONE_SQUARE_DEG = 2.5  # where it is the only one of its line, chance explains a corner further off
TURN_LEAST_MM = 0.15  # sides that move less are square as far as anybody sees
PARALLEL_MOST_DEG = 2.5  # sides that run together more than this taper
PARALLEL_MOST_MM = 1.0  # … and also when one end is narrower than the other by this
PARALLEL_EXACT_MM = 0.15
LEAST_PARALLEL_MM = 10.0
TURN_MOST_MM = 1.2  # no point may move further when sides are turned

# Round: use a stencil
LEAST_ROUND_MM = 3.0  # across; what is smaller is drilled
ROUND_MOST_SHARE = 0.06  # of the radius: a circle drawn freehand; a hexagon is off by 0.067
ELLIPSE_MOST_SHARE = 0.05  # of the lesser half axis
ROUND_MOST_MM = 1.2
ROUND_CORNERS = 5  # an unsteady circle may show so many; a pentagon is off by more anyway
ROUND_RATIO = 0.93  # a flatter ellipse is meant to be one
ELLIPSE_LEAST_RATIO = 0.3
EVEN_LOBES_SHARE = 0.01  # of the radius: an even wave around it, such as petals or an egg
EVEN_LOBES_OF_ALL = 0.75  # … that makes so much of all that is off

# Symmetric: fold the paper
LEAST_SYMMETRIC_MM = 10.0
SYMMETRIC_EXACT_MM = 0.3  # the reading of both halves, and the fold
SYMMETRIC_MOST_MM = 1.5
SYMMETRIC_MOST_SHARE = 0.03  # of the line's size; a fish's back and belly differ by more
TIP_NEAR_MM = 1.5  # an axis that passes a corner so near is meant to go through it
SYMMETRIC_STANDS_OUT = 0.2  # folded in any other direction it lies this much further off

# Wobbly: smooth
LEAST_SMOOTH_MM = 15.0  # between corners
LEAST_SMOOTH_WHOLE_MM = 25.0  # without one: smaller shapes may have corners too near to be seen
SMOOTH_WAVE_MM = 6.0  # half of such a wave is left, of longer ones nearly all
SMOOTH_CUTS_MM = (7.0, 12.0)  # … by the first cut, see `smoothing`; the second is for slow wobbles
SMOOTH_MOST_MM = 0.45  # no point moves further; what would is a detail that is meant
SMOOTH_LEAST_MM = 0.14
