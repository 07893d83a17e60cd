"""Slow, plain twins of the compiled kernels: the same answer, reached another way. One module a stage."""

from naive.cloth import *
from naive.cover import *
from naive.fading import *
from naive.filaments import *
from naive.grain import *
from naive.light import *
from naive.lobes import *
from naive.parts import *
from naive.scene import *
from naive.sewing import *
from naive.strands import *
from naive.uneven import *
