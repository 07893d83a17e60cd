"""One command a shop would type, for the `--help` of each command.

They work as they stand in the folder of the project, in this order; what `fit` and `fit-thread` read is
the reader's own: readings of a sewn swatch, the photograph of a sewn wheel and the lamp over it.
"""

from __future__ import annotations

EXAMPLES = {
    "draw": "twillight draw examples/crest.dst -o on-twill.png --fabric twill --thread 1=white",
    "animate": "twillight animate examples/cap-badge.vp3 -o sewn.gif --size 360x300 --seconds 6 --caption",
    "scene": "twillight scene examples/crest.dst --job examples/crest.job.toml --on polo -o shirt.jpg",
    "inspect": "twillight inspect examples/crest-faulty.exp --fabric jersey -o faults.html",
    "proof": "twillight proof examples/crest.pes --job examples/crest.job.toml --operator -o proof.pdf",
    "verify": "twillight verify proof.pdf examples/crest.dst",
    "changes": "twillight changes examples/crest.pes examples/crest-faulty.pes -o revision.png",
    "pull": "twillight pull examples/crest.pes --fabric jersey -o pulled.png",
    "compare": "twillight compare examples/crest.pes --fabrics twill,jersey -o two-cloths.png",
    "swatch": "twillight swatch -o columns.dst --sheet columns.pdf",
    "fit": "twillight fit columns.csv --fabric jersey -o my-jersey.toml",
    "fit-thread": (
        'twillight fit-thread wheel.jpg --corners "412,390 1620,402 1611,1604 405,1597" --paper 1790,800 '
        "--light lamp.toml -o my-thread.toml"
    ),
    "list": "twillight list fabrics",
}
