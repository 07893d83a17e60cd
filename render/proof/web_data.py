"""What the script of the proof for a screen works with, as JSON can hold it."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING, Any

from render.colour import hex_colour
from render.proof import web_light

if TYPE_CHECKING:
    from collections.abc import Sequence

    from render.proof import Proof
    from render.proof.steps import Step
    from render.proof.web_drawing import Choice
    from render.proof.wording import Words

SHADERS = {
    "whole": "whole.vert.glsl",
    "table": "table.frag.glsl",
    "load": "load.frag.glsl",
    "frame": "frame.frag.glsl",
    "lamp": "lamp.glsl",
}
# Names that the shaders and scripts take from `web_light`.
CONSTANTS = ["AZIMUTHS", "TILTS", "ROLLS", "BODIES", "POINTS", "SIDES", "TILT_LIMIT_DEG", "ROLL_LIMIT_DEG"]
CONSTANTS += ["TOP", "DEPTH_TOP", "REST_TOP", "LOWEST_DEG", "HIGHEST_DEG", "CLEAR_FROM_DEG", "CLEAR_AT_DEG"]
CARD_MM = 85.60  # a bank card is so wide: ISO/IEC 7810, ID-1


def page_title(proof: Proof, words: Words) -> str:
    """What the page is called: whose order of which design."""
    order = proof.account.order
    parts = (words.say("label", "proof"), order.customer, order.order, proof.account.name)
    return " – ".join(part for part in parts if part)


def choice_name(proofs: Sequence[Proof], at: int, words: Words) -> str:
    """What a choice is called: its cloth, the cloth's colour where others are of the same cloth, and a
    number where only the threads differ."""

    def cloth(proof: Proof) -> str:
        fabric = proof.account.cloth
        return words.known("fabric", fabric.fabric, fabric.fabric_title)

    def coloured(proof: Proof) -> str:
        return f"{cloth(proof)}, {hex_colour(proof.account.cloth.colour_srgb)}"

    for named in (cloth, coloured):
        names = [named(proof) for proof in proofs]
        if names.count(names[at]) == 1:
            return names[at]
    return f"{at + 1}. {coloured(proofs[at])}"


def page_data(proofs: Sequence[Proof], choices: Sequence[Choice], words: Words) -> dict[str, Any]:
    """What the script works with, but for the pictures."""
    account, main = proofs[0].account, choices[0].main
    window = main.window
    prints, order = account.fingerprints, account.order
    said = {key: words.tables["screen"][key] for key in words.tables["screen"]}
    said |= {key: words.say("label", key) for key in ("order", "revision", "file_print", "stitch_print")}
    said |= {"checked_said": words.say("approval", "checked"), "name": words.say("approval", "name")}
    said |= {"date": words.say("approval", "date"), "stage_help": words.say("screen", "stage")}
    first = choices[0].lamp
    return {
        "title": page_title(proofs[0], words),
        "words": said,
        "shaders": {name: page_part(file) for name, file in SHADERS.items()},
        "view": {
            "px_per_mm": window.px_per_mm,
            "rows": window.rows,
            "cols": window.cols,
            "corner_mm": [
                round(-side / 2 / main.window.px_per_mm, 3) for side in (main.window.cols, main.window.rows)
            ],
        },
        "stitches": account.stitches,
        "order_per_stitch": main.order_per_stitch,
        "steps": [_step(step) for step in account.steps],
        "card_mm": CARD_MM,
        "lamp": {
            **{name: getattr(web_light, name) for name in CONSTANTS},
            "azimuth_deg": first.azimuth_deg,
            "elevation_deg": first.elevation_deg,
            "irradiance": first.irradiance,
        },
        "variants": [
            {"name": choice_name(proofs, at, words), **choice.as_json()} for at, choice in enumerate(choices)
        ],
        "answer_file": f"{_file_stem(order.order or account.name)}-answer.json",
        "about": {
            "shop": order.shop,
            "customer": order.customer,
            "order": order.order,
            "revision": order.revision,
            "design": account.name,
            "file_fingerprint": prints.file,
            "stitch_fingerprint": prints.stitches,
        },
    }


def _step(step: Step) -> dict[str, Any]:
    first, last = step.stitches
    return {
        "number": step.number,
        "first": first,
        "last": last,
        "starts_s": round(step.starts_s, 1),
        "seconds": round(step.seconds, 1),
    }


def _file_stem(text: str) -> str:
    """A name for a file that any system takes."""
    kept = "".join(sign if sign.isalnum() else "-" for sign in text)
    return "-".join(part for part in kept.split("-") if part)[:60] or "proof"


def page_part(name: str) -> str:
    """A file of the page's own folder."""
    return files("render.proof.page").joinpath(name).read_text("utf-8")
