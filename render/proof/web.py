"""The proof as one HTML file that works from disk: the picture, a light to move, and an answer form.

Nothing in it asks the network for anything. Its policy allows the one script and the one style that
stand in it, and pictures that it carries. Without scripts it is still the picture with all facts.
"""

from __future__ import annotations

import base64
import hashlib
import json
from html import escape
from string import Template
from typing import TYPE_CHECKING, Any

from render.colour import hex_colour
from render.errors import UsageError
from render.proof import web_light
from render.proof.blocks import design_facts, grouped, order_facts, settings_text, thread_kind
from render.proof.carried import record_text
from render.proof.operator_page import step_text
from render.proof.sentences import alt_text, cautions, remark_lines
from render.proof.web_data import choice_name, page_data, page_part, page_title
from render.proof.web_drawing import MOST_BYTES, draw_choices
from render.proof.wording import words_in
from render.write.picture import encode_jpeg

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from render.proof import Proof
    from render.proof.web_drawing import Choice
    from render.proof.wording import Words

SCRIPTS = ("light.js", "stage.js", "answer.js", "main.js")
SWATCH_QUALITY = 80
MOST_DOTS = 12


def proof_html(proofs: Sequence[Proof]) -> str:
    """The page as text: of the first proof, with up to two more to choose from.

    The same proofs make the same text, of at most 5 MB. Raises UsageError for one that will not fit.
    """
    choices = draw_choices(proofs)
    proof, words = proofs[0], words_in(proofs[0].account.language)
    script = "(() => {\n" + "\n".join(map(page_part, SCRIPTS)) + "})();\n"
    style = page_part("page.css")
    main = choices[0].main
    pictures = [
        {
            "main": {name: _base64(data) for name, data in choice.main.files.items()},
            "near": [{name: _base64(data) for name, data in one.files.items()} for one in choice.near],
        }
        for choice in choices
    ]
    # The first picture stands in the page already.
    still = pictures[0]["main"].pop("picture")  # type: ignore[attr-defined]
    page = Template(page_part("page.html")).substitute(
        _texts(proof, words),
        language=escape(words.code),
        style=style,
        style_hash=_policy(style),
        script=script,
        script_hash=_policy(script),
        fingerprints=f'<meta name="proof-record" content="{record_text(proof.account)}">',
        picture=f"data:image/webp;base64,{still}",
        rows=main.window.rows,
        cols=main.window.cols,
        lowest=f"{web_light.LOWEST_DEG:g}",
        highest=f"{web_light.HIGHEST_DEG:g}",
        stitches=proof.account.stitches,
        choices=_choices(proofs, choices, words),
        proof=_json(page_data(proofs, choices, words)),
        pictures=_json(pictures),
    )
    if len(page.encode()) > MOST_BYTES:
        raise UsageError(
            f"the proof for a screen would take {len(page.encode()) / 1e6:.1f} MB, more than"
            f" {MOST_BYTES / 1e6:.0f}: make a .pdf, or leave out --also"
        )
    return page


def _texts(proof: Proof, words: Words) -> dict[str, str]:
    """What the page says, ready to stand in it."""
    account, order = proof.account, proof.account.order
    screen = {key: escape(text) for key, text in words.tables["screen"].items()}
    facts = [*order_facts(account, words), *design_facts(account, words)]
    for key in ("placement", "notes"):
        if value := getattr(order, key):
            facts.append((words.say("label", key), value))
    prints = account.fingerprints
    printed = [
        (words.say("label", "file_print"), grouped(prints.file)),
        (words.say("label", "stitch_print"), grouped(prints.stitches)),
    ]
    heading = order.customer or account.name
    under = [words.say("label", "proof"), account.name if order.customer else ""]
    if order.order:
        under.append(f"{words.say('label', 'order')} {order.order}")
    if order.revision:
        under.append(f"{words.say('label', 'revision')} {order.revision}")
    return {
        **screen,
        "title": escape(page_title(proof, words)),
        "shop": escape(order.shop),
        "heading": escape(heading),
        "under": escape(" · ".join(part for part in under if part)),
        "alt": escape(alt_text(account, words)),
        "simulated": escape(words.say("label", "simulated")),
        "still_hint": screen["open_me"],
        "picture_title": screen["picture"],
        "no_webgl": screen["no_light"],
        "good_to_know": escape(words.say("label", "good_to_know")),
        "design": screen["design"],
        "remarks": "\n".join(f"<li>{escape(line)}</li>" for line in remark_lines(account, words)),
        "facts": _pairs(facts),
        "prints": _pairs(printed),
        "settings_title": escape(words.say("label", "settings")),
        "settings": escape(settings_text(account)),
        "steps": "\n".join(_steps(proof, words)),
        "approve": screen["approved"],
        "change": screen["changes"],
        "checked": escape(words.say("approval", "checked")),
        "name": escape(words.say("approval", "name")),
        "tolerance": escape(cautions(words)),
        "prints_about": escape(words.say("text", "fingerprints")),
    }


def _pairs(pairs: Sequence[tuple[str, str]]) -> str:
    return "\n".join(f"<dt>{escape(label)}</dt><dd>{escape(value)}</dd>" for label, value in pairs)


def _steps(proof: Proof, words: Words) -> Iterator[str]:
    """The steps as items of a list, those that sew with their thread."""
    shown = 0
    for step in proof.account.steps:
        if step.action in ("change", "load", "finish"):
            continue
        shown += 1
        about, swatch, last = "", "", ""
        if step.action == "sew":
            thread = proof.account.threads[step.block - 1]
            name = thread.label or thread_kind(thread, words)
            count = words.say("screen", "step_stitches", number=words.number(thread.stitches))
            about = f"<small>{escape(count)}</small>"
            data = _base64(encode_jpeg(proof.swatches[step.block - 1].pixels, SWATCH_QUALITY))
            swatch = f'<img class="swatch" src="data:image/jpeg;base64,{data}" alt="" width="56" height="24">'
            last = f' data-last="{step.stitches[1]}"'
        else:
            name = step_text(step, proof.account, words)
        time = f"<time>{words.clock(step.seconds)}</time>" if step.seconds else "<time></time>"
        yield (
            f'<li data-step="{step.number}"{last}><div><i>{shown}</i><span>{escape(name)}{about}</span>'
            f"{swatch}{time}</div></li>"
        )


def _choices(proofs: Sequence[Proof], choices: Sequence[Choice], words: Words) -> str:
    """The section to choose a fabric or a set of colours, empty where there is one only."""
    if len(choices) == 1:
        return ""
    items = "\n".join(
        f'<label><input type="radio" name="variant" value="{at}"{" checked" if at == 0 else ""}>'
        f"<span>{_dots(proofs[at])}{escape(choice_name(proofs, at, words))}</span></label>"
        for at in range(len(choices))
    )
    title = escape(words.say("screen", "choices"))
    return (
        f'<section class="live"><fieldset class="variants"><legend><h2>{title}</h2></legend>\n'
        f"{items}\n</fieldset></section>"
    )


def _dots(proof: Proof) -> str:
    """The colours of a choice: a square of its cloth, a dot a thread."""
    account = proof.account
    threads = list(dict.fromkeys(hex_colour(thread.colour_srgb) for thread in account.threads))[:MOST_DOTS]
    width = 24 + 14 * len(threads)
    dots = "".join(
        f'<circle cx="{31 + 14 * at}" cy="10" r="5" fill="{colour}"/>' for at, colour in enumerate(threads)
    )
    cloth = (
        f'<rect x="1" y="1" width="18" height="18" rx="4" fill="{hex_colour(account.cloth.colour_srgb)}"/>'
    )
    return f'<svg width="{width}" height="20" aria-hidden="true">{cloth}{dots}</svg>'


def _json(value: Any) -> str:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(value, ensure_ascii=True, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def _policy(text: str) -> str:
    """What a policy allows by its content: the digest of an inline script or style."""
    return "sha256-" + _base64(hashlib.sha256(text.encode()).digest())


def _base64(data: bytes) -> str:
    return base64.b64encode(data).decode("ascii")
