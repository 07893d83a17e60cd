"""What is known of places of threads while they are lit: rows of `BATCH` numbers, all in one array.

How far apart rows lie is then known to the compiler, which takes many places at once.
"""

BATCH = 512
# Rows of numbers: sub-pixels from the strand's start, light that reaches the place; where it is along and
# across the strand; how filaments lie there and how light they are; its share of the way between samples of
# the sheen; how much thread lies there, in mm and then in steps of what shows of it.
X, Y, KEY, SKY, ALONG, ACROSS = (BATCH * row for row in range(6))
STRAY, TILTED, ROLLED, LIGHTNESS, GROOVE, GLINTS = (BATCH * row for row in range(6, 12))
BY_AZIMUTH, BY_TILT, BY_ROLL, THICK, PLACES = (BATCH * row for row in range(12, 17))
# And of whole numbers: the strand, the column of pixels, how many sub-pixels, the samples of the sheen
# before the place and after it, the step of `ROUND` for it.
NAME, COLUMN, MANY, SAMPLE, NEXT, STEP, NAMES = (BATCH * row for row in range(7))
# Until the sheen is looked for, its rows hold what says how filaments lie: the sample of the course, that of
# the filaments, the shares of the way to the next row and column of those, the place within the ply.
HERE, FILAMENT = SAMPLE, NEXT
BY_ROW, BY_COLUMN, PLY = BY_AZIMUTH, BY_TILT, BY_ROLL
PART = STEP  # and before that, in which block and which part of it the place lies, see `gather`
# Where the place lies is known no more when the light it sends is, RGB, in whole `LEVELS`.
RED, GREEN, BLUE = X, Y, ALONG
LEVELS = 2.0**22  # steps of light between black and white: summed in whole numbers
