"""The page for the machine: what hands do and what is sewn, in order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from render.colour import hex_colour
from render.materials.fibres import most_spm
from render.proof.blocks import FACT_PT, fact_grid, laid_cloth, thread_kind
from render.proof.customer_page import EDGE_MM, heading
from render.proof.sentences import alt_text
from render.proof.typesetting import INK, SOFT, line_height

if TYPE_CHECKING:
    from render.proof.account import ProofAccount
    from render.proof.customer_page import PageInput
    from render.proof.remarks import Watch
    from render.proof.steps import Step
    from render.proof.typesetting import Sheets
    from render.proof.wording import Words

STEP_PT = 8.5
STEP_MM = 7.6
MAP_MM = 66.0  # longer side of the picture for the machine
WARNING = (0.60, 0.16, 0.08)


def operator_page(sheets: Sheets, given: PageInput) -> None:
    """The timeline, on as many pages as it takes; a map, what to watch and the cautions end it."""
    account, words = given.account, given.words
    width, height = given.page_mm
    inner = width - 2 * EDGE_MM
    y = _start(sheets, given)
    y = heading(sheets, words.say("label", "timeline"), EDGE_MM, y, inner)
    steps = shown_steps(account)
    for step in steps:
        if y + STEP_MM > height - EDGE_MM:
            sheets.new_page(width, height)
            y = EDGE_MM
        _step(sheets, given, step, y, inner)
        y += STEP_MM
    y = _totals(sheets, account, words, y, inner) + 5
    if y + _ending_height(sheets, given, inner) > height - EDGE_MM:
        sheets.new_page(width, height)
        y = EDGE_MM
    _ending(sheets, given, y, inner)


def shown_steps(account: ProofAccount) -> list[Step]:
    """Steps without the machine's own changes of thread, which need nobody."""
    return [step for step in account.steps if step.action != "change"]


def _start(sheets: Sheets, given: PageInput) -> float:
    """Title and set-up; `y` below."""
    account, words = given.account, given.words
    width, height = given.page_mm
    inner = width - 2 * EDGE_MM
    sheets.new_page(width, height)
    y = EDGE_MM - 1
    title = words.say("label", "operator")
    sheets.line_of_text(title, EDGE_MM, y, size_pt=16, bold=True, tag="H1", width=inner - 62)
    order = account.order
    about = [part for part in (account.name, order.order, order.customer) if part]
    room = inner - sheets.width_of(title, 16, bold=True) - 8
    sheets.parts_of_line(about, EDGE_MM + inner, y + 1.8, size_pt=9, ink=SOFT, width=room)
    y += 11.5
    sheets.rule(EDGE_MM, y, EDGE_MM + inner, y, ink=INK, width_mm=0.35)
    y = (
        fact_grid(sheets, set_up_facts(account, words), EDGE_MM, y + 3.5, inner + 4, columns=4, most_lines=4)
        + 1.5
    )
    if account.cloth.cap:
        y = (
            sheets.paragraph(words.say("operator", "turn_caps"), EDGE_MM, y, inner, size_pt=9, ink=WARNING)
            + 2
        )
    return y


def set_up_facts(account: ProofAccount, words: Words) -> list[tuple[str, str]]:
    """Hoop, stabiliser, topping, speed, first stitch, turn."""
    cloth = account.cloth
    hoop = words.say(
        "hoop",
        cloth.hoop.shape,
        width=words.number(cloth.hoop.width_mm),
        height=words.mm(cloth.hoop.height_mm, 0),
    )
    turned = (
        [words.say("operator", "turn_by", degrees=words.number(account.rotate_deg))]
        if account.rotate_deg % 360
        else []
    )
    turned += [words.say("operator", "mirrored")] if account.mirror else []
    speed = words.say("operator", "spm", number=words.number(account.speed_spm))
    slow = sorted({one.kind for one in account.threads if most_spm(one.kind) == account.speed_spm})
    if slow:
        names = ", ".join(words.say("thread_kind", kind) for kind in slow)
        speed = f"{speed}, {words.say('operator', 'slowed', thread=names)}"
    fabric = words.known("fabric", cloth.fabric, cloth.fabric_title)
    return [
        (words.say("label", "hoop"), hoop),
        (words.say("label", "cloth"), fabric),
        (words.say("label", "under"), words.known("stabiliser", cloth.stabiliser, cloth.stabiliser)),
        (words.say("label", "on_top"), words.known("topping", cloth.topping, cloth.topping)),
        (words.say("label", "held"), words.known("held", cloth.held, cloth.held)),
        (words.say("label", "speed"), speed),
        (words.say("label", "start"), place_text(account.start_mm, words)),
        (words.say("label", "turned"), ", ".join(turned) or words.say("operator", "turn_none")),
    ]


def place_text(from_middle_mm: tuple[float, float], words: Words) -> str:
    """A place on the design as one points at it."""
    ways = [
        words.say("place", less if way < 0 else more, mm=words.mm(abs(way), 0))
        for way, less, more in zip(from_middle_mm, ("left", "up"), ("right", "down"), strict=True)
        if round(abs(way))
    ]
    if len(ways) == 2:
        return words.say("place", "from_middle", across=ways[0], along=ways[1])
    return words.say("place", "from_middle_one", way=ways[0]) if ways else words.say("place", "middle")


def step_text(step: Step, account: ProofAccount, words: Words) -> str:
    """What a step is, in words."""
    if step.action == "sew":
        kinds = ", ".join(words.say("stitch", kind) for kind in step.kinds[:3])
        return words.say("step", "sew", what=kinds)
    if step.action in ("load", "finish") and account.cloth.topping != "none":
        return words.say("step", f"{step.action}_topping")
    if step.action == "lay" and (laid := account.threads[step.block - 1].laid) is not None:
        return f"{words.say('step', 'lay')}: {laid_cloth(laid, words)}"
    return words.say("step", step.action)


def _step(sheets: Sheets, given: PageInput, step: Step, y: float, inner: float) -> None:
    """A row: the clock, what it is, and for sewing the thread with its needle, metres and time."""
    account, words = given.account, given.words
    x = EDGE_MM
    if step.action not in ("load", "finish"):
        sheets.line_of_text(
            words.clock(step.starts_s), x + 11, y + 0.4, size_pt=STEP_PT, ink=SOFT, align="right"
        )
    text = step_text(step, account, words)
    if step.by_hand:
        sheets.frame(
            x + 14, y - 0.4, inner - 14, STEP_MM - 1.0, ink=None, fill=(0.95, 0.94, 0.91), corner=0.8
        )
        sheets.line_of_text(text, x + 16, y + 0.4, size_pt=STEP_PT, bold=True, width=inner - 40)
        sheets.line_of_text(
            words.say("step", "by_hand"), x + inner - 2, y + 0.4, size_pt=STEP_PT, ink=SOFT, align="right"
        )
        return
    thread = account.threads[step.block - 1]
    swatch = given.swatches[step.block - 1]
    sheets.picture(swatch, x + 14, y - 0.2, 11.7, 5.0, alt=hex_colour(thread.colour_srgb))
    named = thread.label or hex_colour(thread.colour_srgb)
    needle = "" if thread.needle is None else f"{words.say('label', 'needle')} {thread.needle}"
    sheets.line_of_text(f"{thread.number}", x + 31, y + 0.4, size_pt=STEP_PT, ink=SOFT, align="right")
    sheets.line_of_text(named, x + 33, y - 0.7, size_pt=STEP_PT, bold=True, width=40)
    kind = thread_kind(thread, words)
    sheets.line_of_text(kind, x + 33, y + 2.8, size_pt=6.5, ink=SOFT, width=40)
    sheets.line_of_text(needle, x + 74, y + 0.4, size_pt=STEP_PT, width=18)
    sheets.line_of_text(text, x + 93, y + 0.4, size_pt=STEP_PT, width=inner - 93 - 30)
    metres = f"{words.number(thread.metres, 1)} m"
    sheets.line_of_text(metres, x + inner - 15, y + 0.4, size_pt=STEP_PT, align="right")
    sheets.line_of_text(words.clock(step.seconds), x + inner, y + 0.4, size_pt=STEP_PT, align="right")


def _totals(sheets: Sheets, account: ProofAccount, words: Words, y: float, inner: float) -> float:
    sheets.rule(EDGE_MM, y, EDGE_MM + inner, y)
    metres = sum(thread.metres for thread in account.threads)
    trims = f"{words.say('label', 'trims')}: {words.number(account.trims)}"
    bobbin = f"{words.say('label', 'bobbin')}: {words.number(account.bobbin_m, 1)} m"
    right = EDGE_MM + inner
    y += 1.2
    sheets.line_of_text(
        f"{words.say('label', 'total')}   {trims}   {bobbin}", EDGE_MM + 14, y, size_pt=STEP_PT
    )
    sheets.line_of_text(
        f"{words.number(metres, 1)} m", right - 15, y, size_pt=STEP_PT, bold=True, align="right"
    )
    sheets.line_of_text(words.clock(account.run_time_s), right, y, size_pt=STEP_PT, bold=True, align="right")
    return y + line_height(FACT_PT)


def _ending(sheets: Sheets, given: PageInput, y: float, inner: float) -> None:
    """The piece as it lies before the operator, with places to watch, and the cautions."""
    account, words = given.account, given.words
    wide, high = _map_size(given)
    _map(sheets, given, EDGE_MM, y + 4.5, wide, high)
    x, room = EDGE_MM + wide + 8, inner - wide - 8
    if account.watch:
        y = heading(sheets, words.say("label", "watch"), x, y, room)
    for number, one in enumerate(account.watch, 1):
        sheets.line_of_text(f"{number}", x + 4, y, size_pt=STEP_PT, ink=SOFT, align="right")
        y = (
            sheets.paragraph(watch_text(one, words), x + 6, y, room - 6, size_pt=STEP_PT, bold=one.grave)
            + 0.6
        )
    marked = words.say("operator", "start_and_places" if account.watch else "start_mark")
    y = sheets.paragraph(marked, x, y + 1.5, room, size_pt=7.5, ink=SOFT)
    y = sheets.paragraph(
        words.say("operator", "caution"), x, y + 3, room, size_pt=9.5, bold=True, ink=WARNING
    )
    sheets.paragraph(words.say("operator", "protective"), x, y + 1.5, room, size_pt=8, ink=WARNING)


def _ending_height(sheets: Sheets, given: PageInput, inner: float) -> float:
    words, (wide, high) = given.words, _map_size(given)
    room = inner - wide - 8
    lines = sum(
        len(sheets.wrapped(watch_text(one, words), room - 6, STEP_PT, bold=one.grave))
        for one in given.account.watch
    )
    said = sum(
        len(sheets.wrapped(words.say("operator", key), room, 9.5, bold=True)) + 1
        for key in ("start_and_places", "caution", "protective")
    )
    return max(high + 8, 8 + lines * (line_height(STEP_PT) + 0.6) + said * line_height(9.5))


def watch_text(one: Watch, words: Words) -> str:
    """A place to keep an eye on, in words."""
    size = "" if one.size_mm is None else f", {words.mm(one.size_mm)}"
    block = words.say("operator", "in_block", number=one.block)
    return f"{words.say('problem', one.kind)}{size}: {place_text(one.from_middle_mm, words)} ({block})"


def _map_size(given: PageInput) -> tuple[float, float]:
    scale = min(MAP_MM / max(given.size_mm), 1.0)
    return given.size_mm[0] * scale, given.size_mm[1] * scale


def _map(sheets: Sheets, given: PageInput, x: float, y: float, wide: float, high: float) -> None:
    """The picture with its top named, a ring at the first stitch, and numbers at places to watch."""
    account, words, scale = given.account, given.words, wide / given.size_mm[0]
    middle = x + wide / 2, y + high / 2
    sheets.line_of_text(words.say("label", "top"), middle[0] + 2.5, y - 4.6, size_pt=8)
    tip = middle[0] - 0.5, y - 4.2
    arrow = [("M", tip), ("L", (tip[0] + 1.5, tip[1] + 2.6)), ("L", (tip[0] - 1.5, tip[1] + 2.6)), ("Z", ())]
    with sheets.decoration():
        sheets.shape(arrow, fill=INK, ink=INK, line_mm=0.1)
    sheets.picture(given.picture, x, y, wide, high, alt=alt_text(account, words))
    for number, one in enumerate(account.watch, 1):
        left, top = (at + scale * way for at, way in zip(middle, one.from_middle_mm, strict=True))
        sheets.badge(left, top, f"{number}")
    left, top = (at + scale * way for at, way in zip(middle, account.start_mm, strict=True))
    sheets.ring(left, top, 2.3)
