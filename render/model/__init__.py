"""The records that flow through the pipeline, and nothing else.

Design space is millimetres, x right, y down, as stitch files have it. Directions that
leave the cloth have z towards the viewer. Azimuths are degrees from +x towards +y, so on
the screen 0 is right, 90 bottom, 180 left and 270 top. Colours are sRGB in [0, 1] where
a name ends in `_srgb` and linear light where it ends in `_linear`. Arrays are read-only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.model.arrays import (
    Colour,
    freeze,
    lock,
)
from render.model.design import (
    AREA_KINDS,
    HIDDEN_KINDS,
    SATIN_KINDS,
    ColourBlock,
    Command,
    Cut,
    Design,
    SewnObject,
    SewPlan,
    StitchKind,
    Travel,
    TrimRule,
)
from render.model.findings import (
    Limit,
    Limits,
    Problem,
    ProblemKind,
    Production,
    Severity,
    Waiver,
)
from render.model.job import (
    Finish,
    Job,
)
from render.model.materials import (
    BlockTreatment,
    Fabric,
    FibreLobes,
    Holding,
    Hoop,
    Lamp,
    Light,
    Machine,
    Spread,
    Stabiliser,
    Thread,
    ThreadChange,
)
from render.model.picture import (
    CLOTH,
    Cover,
    Earlier,
    Layers,
    Picture,
    Relightable,
    ThreadPlanes,
    View,
    Window,
)
from render.model.sewing import (
    ClothMove,
    ClothRest,
    ObjectMove,
    Sewn,
)

if TYPE_CHECKING:
    from render.model.arrays import Floats as Floats
    from render.model.arrays import Ints as Ints

__all__ = [
    "AREA_KINDS",
    "CLOTH",
    "HIDDEN_KINDS",
    "SATIN_KINDS",
    "BlockTreatment",
    "ClothMove",
    "ClothRest",
    "Colour",
    "ColourBlock",
    "Command",
    "Cover",
    "Cut",
    "Design",
    "Earlier",
    "Fabric",
    "FibreLobes",
    "Finish",
    "Holding",
    "Hoop",
    "Job",
    "Lamp",
    "Layers",
    "Light",
    "Limit",
    "Limits",
    "Machine",
    "ObjectMove",
    "Picture",
    "Problem",
    "ProblemKind",
    "Production",
    "Relightable",
    "Severity",
    "SewPlan",
    "Sewn",
    "SewnObject",
    "Spread",
    "Stabiliser",
    "StitchKind",
    "Thread",
    "ThreadChange",
    "ThreadPlanes",
    "Travel",
    "TrimRule",
    "View",
    "Waiver",
    "Window",
    "freeze",
    "lock",
]
