"""What is known of places of threads while they are lit: rows of `BATCH` numbers, all in one array.

How far apart rows lie is then known to the compiler, which takes many places at once.
"""

# No power of two: where rows began as far apart, all of them would want the same few lines of the caches.
BATCH = 528
# Rows of numbers: sub-pixels from the strand's start, light that reaches the place; where it is along and
# across the strand; how filaments lie there and how light they are; its share of the way between samples of
# the sheen; how much thread lies there, in mm and then in steps of what shows of it.
X, Y, KEY, SKY, ALONG, ACROSS = (BATCH * row for row in range(6))
STRAY, TILTED, ROLLED, LIGHTNESS, GROOVE, GLINTS = (BATCH * row for row in range(6, 12))
BY_AZIMUTH, BY_TILT, BY_ROLL, THICK = (BATCH * row for row in range(12, 16))
# What is looked up of each place, as columns: the numbers of its strand, then its sheen; the course of that
# there, then in which shares it shows eight samples of the sheen, then what shows by its thickness.
STRAND, COURSE, PLACES = (BATCH * row for row in (16, 32, 40))
SHEEN, SHARES, SHOWN = STRAND, COURSE, COURSE
# And of whole numbers: the strand, the column of pixels, how many sub-pixels, the samples of the sheen
# before the place and after it, the step of `ROUND` for it; and those of its strand, as columns.
NAME, COLUMN, MANY, SAMPLE, NEXT, STEP, OF_STRAND = (BATCH * row for row in range(7))
FILAMENTS = OF_STRAND + BATCH * 8  # and the samples of the filaments around it, as columns
NAMES = FILAMENTS + BATCH * 8
# Until the sheen is looked for, its rows hold what says how filaments lie: the sample of the course, that of
# the filaments, the shares of the way to the next row and column of those, the place within the ply.
HERE, FILAMENT = SAMPLE, NEXT
BY_ROW, BY_COLUMN, PLY = BY_AZIMUTH, BY_TILT, BY_ROLL
ONWARD = BY_AZIMUTH  # and before that, how far the place lies from one sample of the course to the next
PART = STEP  # and before that, in which block and which part of it the place lies, see `gather`
# Where the place lies is known no more when the light it sends is, RGB, in whole `LEVELS`.
RED, GREEN, BLUE = X, Y, ALONG
LEVELS = 2.0**22  # steps of light between black and white: summed in whole numbers
