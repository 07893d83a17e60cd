"""What a proof says agrees with the plan, the inspection and the job it was made from."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import get_args

import pytest

from render.errors import InputError
from render.inspect import Inspection, inspect, kinds
from render.inspection import piece_of
from render.materials.fabrics import fabric_names
from render.materials.fibres import thread_kinds
from render.materials.job import make_job
from render.materials.presets import preset
from render.materials.stabilisers import held_names, hoop_names, load_hoop, stabiliser_names
from render.model import Problem, Production, Severity, StitchKind
from render.preview import sew_design
from render.proof.account import ProofAccount, proof_account
from render.proof.carried import find_record, fingerprints_in, record_text
from render.proof.fonts import fonts_for, signs_of
from render.proof.operator_page import place_text, set_up_facts, shown_steps, step_text
from render.proof.order_text import shown_text
from render.proof.remarks import customer_remarks, to_watch
from render.proof.steps import Action
from render.proof.wording import brought_along, language_of, languages, words_in
from render.read import read_design

EXAMPLES = Path(__file__).parents[2] / "examples"


@cache
def account(name: str, machine: str | None) -> ProofAccount:
    job_file = EXAMPLES / f"{name}.job.toml"
    job = make_job(str(job_file) if job_file.exists() else None, machine=machine)
    design = read_design(str(EXAMPLES / f"{name}.dst"))
    piece = piece_of(sew_design(design, job), job)
    return proof_account(design, piece, inspect(piece), language="en")


def test_a_cloth_goes_by_what_it_is_called_and_a_thread_may_ask_for_less_speed() -> None:
    job = make_job(fabric="twill", machine="multi-needle", thread=("1=red metallic",))
    job = replace(job, fabric=replace(job.fabric, name="calico", title="calico", called={"de": "Nessel"}))
    design = read_design(str(EXAMPLES / "applique-oar.dst"))
    piece = piece_of(sew_design(design, job), job)
    found = inspect(piece)
    for language, title in (("de", "Nessel"), ("fr", "calico")):
        told = proof_account(design, piece, found, language=language)
        assert (told.cloth.fabric_title, told.speed_spm) == (title, 600.0)
    assert account("applique-oar", "multi-needle").speed_spm == job.machine.speed_spm > 600


def test_size_stitches_and_order_are_those_of_the_design_and_the_job() -> None:
    found = account("crest", None)
    assert (round(found.width_mm, 1), round(found.height_mm, 1), found.stitches) == (80.8, 80.8, 11091)
    assert found.order.customer == "Otter & Oar Rowing Club"
    assert [thread.label for thread in found.threads][:3] == ["sky", "navy", "gold"]
    assert (len(found.threads), found.colours) == (8, 6)
    assert {thread.size for thread in found.threads} == {"40 wt"}
    assert sum(thread.stitches for thread in found.threads) == found.stitches


@pytest.mark.parametrize(
    ("name", "machine"),
    [
        ("crest", None),
        ("applique-oar", "multi-needle"),
        ("applique-oar", "single-needle"),
        ("applique-oar", "no-trimmer"),
    ],
)
def test_steps_take_the_run_time_and_cover_every_stitch(name: str, machine: str | None) -> None:
    found = account(name, machine)
    between = [step for step in found.steps if step.action not in ("load", "finish")]
    assert sum(step.seconds for step in between) == pytest.approx(found.run_time_s, rel=1e-9)
    clock = 0.0
    for step in between:
        assert step.starts_s == pytest.approx(clock)
        clock += step.seconds
    sewn = [step.stitches for step in found.steps if step.action == "sew"]
    assert [first for first, _ in sewn] == [0, *(last + 1 for _, last in sewn[:-1])]
    assert sewn[-1][1] == found.stitches - 1
    assert sum(step.action in ("change", "re-thread") for step in between) <= len(found.threads) - 1


def test_hands_lay_the_cloth_after_the_placement_line_and_trim_it_after_the_tack_down() -> None:
    steps = account("applique-oar", "multi-needle").steps
    hands = [(step.action, step.block) for step in steps if step.by_hand]
    assert hands == [("load", 0), ("lay", 2), ("trim", 3), ("finish", 0)]


def test_one_needle_is_threaded_by_hand() -> None:
    actions = {step.action for step in account("applique-oar", "single-needle").steps}
    assert "re-thread" in actions
    assert "change" not in actions


def test_the_record_survives_the_way_there_and_back() -> None:
    found = account("crest", None)
    record = find_record(b"before " + record_text(found).encode() + b" after")
    assert record is not None
    assert fingerprints_in(record) == found.fingerprints
    assert record["settings"] == found.settings


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("a\x00b\x1b[31mc", "a b [31mc"),
        ("one\ntwo\r\nthree", "one two three"),
        ("\u202eevil\u202c \u2066x\u2069", "evil x"),
        ("<b>bold</b> & **more**", "<b>bold</b> & **more**"),
        ("می\u200cخواهم", "می\u200cخواهم"),
        ("e\u0301", "é"),
        ("   ", ""),
    ],
)
def test_words_of_others_are_shown_as_words(written: str, shown: str) -> None:
    assert shown_text(written) == shown


def test_very_long_words_are_cut_off_and_notes_keep_their_lines() -> None:
    assert len(shown_text("x" * 10**6)) == 4000
    assert shown_text("x" * 10**6).endswith("…")
    assert shown_text("one\r\n two\u2028three", lines=True) == "one\ntwo three"


@pytest.mark.parametrize(("wanted", "code"), [("", "en"), ("en", "en"), ("EN-GB", "en"), ("English", "en")])
def test_languages_are_known_by_code_and_name(wanted: str, code: str) -> None:
    assert language_of(wanted) == code


def test_an_unknown_language_is_refused_with_a_list() -> None:
    with pytest.raises(InputError, match=r"en \(English\)"):
        language_of("tlh")


@pytest.mark.parametrize("code", list(languages()))
def test_every_language_has_the_same_keys_and_places_to_fill(code: str) -> None:
    english, words = words_in("en"), words_in(code)
    assert set(words.tables) == set(english.tables)
    for name, table in english.tables.items():
        assert set(words.tables[name]) == set(table), name
        for key, text in table.items():
            assert _places(words.tables[name][key]) == _places(text), f"{name}.{key}"


def _places(text: str) -> list[str]:
    return sorted(part.split("}")[0] for part in text.split("{")[1:])


@pytest.mark.parametrize("code", list(languages()))
def test_every_kind_has_its_words(code: str) -> None:
    # Of the language's own, or in the language brought along: what ships falls back on no English.
    tables = {
        name: set(table) for name, table in preset(f"words/{code}.toml").items() if isinstance(table, dict)
    }
    for table, key, said in brought_along():
        if code in said:
            tables[table].add(key)
    shapes = {load_hoop(name).shape for name in hoop_names()}
    for table, names in (
        ("problem", kinds()),
        ("stitch", get_args(StitchKind)),
        ("thread_kind", thread_kinds()),
        ("treatment", ("applique", "foam", "open")),
        ("step", get_args(Action)),
        ("remark", {kind.remark for kind in kinds().values()} - {""}),
        ("stabiliser", stabiliser_names()),
        ("held", held_names()),
        ("hoop", shapes),
    ):
        assert set(names) <= tables[table], table
    # A fabric without words is shown by its title.
    assert tables["fabric"] <= set(fabric_names())


@pytest.mark.parametrize("code", list(languages()))
def test_the_fonts_have_every_sign_of_our_own_words(code: str) -> None:
    thread = account("applique-oar", "multi-needle").threads[0]
    own = [replace(thread, tex=tex).size for tex in (25.0, 26.7, 24.0, 13.0)]
    words = [text for table in words_in(code).tables.values() for text in table.values()]
    known = signs_of(fonts_for(words))
    assert {sign for text in (*own, *words) for sign in text if ord(sign) not in known} == set()


@pytest.mark.parametrize(
    ("tex", "size"), [(25.0, "40 wt"), (26.7, "26.7 tex (~40 wt)"), (1000 / 60, "60 wt"), (200.0, "200 tex")]
)
def test_sizes_as_cones_are_marked(tex: float, size: str) -> None:
    assert replace(account("applique-oar", "multi-needle").threads[0], tex=tex).size == size


def test_foam_explains_a_stop_between_blocks_of_one_thread(tmp_path: Path) -> None:
    path = tmp_path / "foam.job.toml"
    path.write_text("machine = 'single-needle'\n[[block]]\nnumber = 3\nkind = 'foam'\nheight_mm = 2\n")
    job = make_job(str(path), threads=str(EXAMPLES / "applique-oar.threads.toml"))
    design = read_design(str(EXAMPLES / "applique-oar.dst"))
    piece = piece_of(sew_design(design, job), job)
    found = proof_account(design, piece, inspect(piece), language="en")
    assert [(step.action, step.block) for step in found.steps if step.by_hand][:4] == [
        ("load", 0),
        ("re-thread", 1),
        ("foam", 3),
        ("wait", 3),
    ]
    between = [step.seconds for step in found.steps if step.action not in ("load", "finish")]
    assert sum(between) == pytest.approx(found.run_time_s)


def test_numbers_as_each_language_writes_them() -> None:
    assert words_in("en").number(10928) == "10,928"
    assert words_in("en").mm(80.8) == "80.8\u00a0mm"
    assert words_in("en").clock(1241) == "20:41"
    assert words_in("en").clock(3900) == "1:05:00"


def test_the_operator_reads_what_hands_do_and_how_it_is_set_up() -> None:
    found, words = account("applique-oar", "single-needle"), words_in("en")
    told = [step_text(step, found, words) for step in shown_steps(found)]
    assert "Lay the piece of cloth on the outline: wool felt, #2f6f73" in told
    assert told.index("Trim the cloth close to the stitching") > told.index("Sew run")
    assert told.count("Re-thread") == sum(step.action == "re-thread" for step in found.steps) > 0
    set_up = dict(set_up_facts(found, words))
    assert set_up["Hoop"] == "240 x 240\u00a0mm"
    assert set_up["Speed"] == "700 stitches a minute at most"
    assert set_up["Turned"] == "not turned"
    shiny = tuple(replace(thread, kind="metallic") for thread in found.threads)
    for speed, why in ((600.0, ", for the metallic thread"), (500.0, "")):
        slowed = dict(set_up_facts(replace(found, threads=shiny, speed_spm=speed), words))
        assert slowed["Speed"] == f"{speed:.0f} stitches a minute at most{why}"
    turned = dict(set_up_facts(replace(found, rotate_deg=180.0, mirror=True), words))
    assert turned["Turned"] == "by 180° clockwise, mirrored"


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ((-12.4, 3.2), "12\u00a0mm left, 3\u00a0mm down from the middle"),
        ((0.2, -7.6), "8\u00a0mm up from the middle"),
        ((0.1, 0.4), "in the middle"),
    ],
)
def test_places_as_one_points_at_them(place: tuple[float, float], said: str) -> None:
    assert place_text(place, words_in("en")) == said


def test_customers_hear_what_shows_and_nothing_else() -> None:
    job = make_job(finish="cleaned")

    def problem(kind: str, severity: Severity, size_mm: float | None) -> Problem:
        return Problem(kind, severity, (0, 0), (0, 0, 1, 1), size_mm, (0,), (0, 1), 0, "cause", "remedy")

    problems = (
        problem("gap", "fix", 0.4),
        problem("gap", "check", 0.9),
        problem("gap", "note", 3.0),
        problem("small-lettering", "check", 4.1),
        problem("small-lettering", "check", 3.2),
        problem("needless-trim", "fix", 1.0),
        problem("no-tie", "fix", None),
        problem("uncut-jump", "fix", 9.0),
        problem("pucker", "note", None),
        problem("one-way-pull", "check", 20.0),
    )
    production = Production(1.0, 0, 0, 0, (1.0,), 1.0)
    found = Inspection(problems, 0, production)
    told = {remark.words: remark for remark in customer_remarks(found, job)}
    assert set(told) == {"gaps", "small_letters", "ripple"}
    assert (told["gaps"].size_mm, told["gaps"].places) == (0.9, 2)
    assert told["small_letters"].size_mm == 3.2
    left = customer_remarks(found, make_job(finish="off-machine"))
    assert "threads_left" in {remark.words for remark in left}
    watched = to_watch(found, (0, 0, 1, 1))
    assert [one.kind for one in watched] == [
        "gap", "small-lettering", "needless-trim", "no-tie", "uncut-jump", "one-way-pull"
    ]  # fmt: skip
    assert watched[0].grave
