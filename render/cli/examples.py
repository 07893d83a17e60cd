"""One command a shop would type, for the `--help` of each command."""

from __future__ import annotations

EXAMPLES = {
    "draw": "twillight draw crest.dst -o crest.png --fabric twill --thread 1=white",
    "animate": "twillight animate badge.vp3 -o badge.gif --size phone --seconds 10 --caption",
    "scene": "twillight scene crest.dst --threads crest.threads.toml --on polo -o polo.jpg",
    "inspect": "twillight inspect crest.exp --fabric jersey -o report.html",
    "proof": "twillight proof crest.pes --job crest.job.toml --operator -o approval.pdf",
    "verify": "twillight verify approval.pdf crest.dst",
    "changes": "twillight changes first.exp second.exp -o changes.png",
    "pull": "twillight pull crest.pes --fabric jersey -o pull.png",
    "compare": "twillight compare crest.pes --fabrics twill,jersey -o cloths.png",
    "swatch": "twillight swatch -o swatch.dst --sheet swatch.pdf",
    "fit": "twillight fit swatch.csv --fabric jersey -o my-jersey.toml",
    "fit-thread": (
        'twillight fit-thread wheel.jpg --corners "412,390 1620,402 1611,1604 405,1597" --paper 1790,800 '
        "--light lamp.toml -o my-thread.toml"
    ),
    "list": "twillight list fabrics",
}
