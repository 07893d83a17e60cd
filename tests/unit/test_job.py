"""The job file: what it holds, what outranks it, and how it fails."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from render.errors import InputError, UsageError
from render.materials import job, machines
from render.materials.job import make_job
from render.model import BlockTreatment, ThreadChange

RED = (1.0, 0.0, 0.0)
JOB = """
shop = "Otter & Oar"
customer = "Rowing Club <b>&amp;</b>"
quantity = 40
due = 2030-05-01
notes = '''Two lines,
"quoted" {and} %s'''
fabric = "twill"
fabric_colour = "navy"
fabric_turn_deg = 90
stabiliser = "cut-away"
topping = "water-soluble film"
machine = "shop.toml"
light = "window"
finish = "cleaned"
seed = 7

[[thread]]
colour = "#ff0000"
size = "60 wt"
label = "A12"
needle = 4

[[block]]
number = 2
kind = "applique"
fabric = "felt"
colour = "red"
[[block]]
number = 3
kind = "foam"
height_mm = 3
[[block]]
number = 4
kind = "open"
"""


@pytest.fixture
def job_file(tmp_path: Path) -> Path:
    (tmp_path / "shop.toml").write_text("title = 'Ours'\ntrimmer = true\nneedles = 6")
    path = tmp_path / "job.toml"
    path.write_text(JOB)
    return path


def test_everything_in_the_file_arrives(job_file: Path) -> None:
    job = make_job(str(job_file))
    assert job.facts == {
        "shop": "Otter & Oar",
        "customer": "Rowing Club <b>&amp;</b>",
        "quantity": "40",
        "due": "2030-05-01",
        "notes": 'Two lines,\n"quoted" {and} %s',
    }
    assert (job.fabric.name, job.fabric_colour_srgb, job.fabric_turn_deg) == ("twill", (0, 0, 128 / 255), 90)
    assert (job.stabiliser, job.topping, job.finish, job.seed) == (
        "cut-away", "water-soluble film", "cleaned", 7,
    )  # fmt: skip
    assert (job.machine.name, job.machine.needles, job.light.name) == ("shop", 6, "window")
    (thread,) = job.threads
    assert (thread.colour_srgb, thread.label, thread.needle) == (RED, "A12", 4)
    assert thread.tex == pytest.approx(1000 / 60)
    assert job.blocks == {
        1: BlockTreatment("applique", "felt", RED),
        2: BlockTreatment("foam", height_mm=3.0),
        3: BlockTreatment("open"),
    }


def test_options_outrank_the_file(job_file: Path) -> None:
    (job_file.parent / "list.csv").write_text("colour\nnavy\n")
    job = make_job(
        str(job_file),
        fabric="denim",
        fabric_colour="#fff",
        threads=str(job_file.parent / "list.csv"),
        thread=("1=red cotton", "1,2=lime"),
        light="raking",
        machine="no-trimmer",
        finish="off-machine",
        seed=0,
    )
    assert (job.fabric.name, job.light.name, job.machine.name) == ("denim", "raking", "no-trimmer")
    assert (job.fabric_colour_srgb, job.finish, job.seed) == ((1, 1, 1), "off-machine", 0)
    assert [thread.colour_srgb for thread in job.threads] == [(0, 0, 128 / 255)]
    # The later of two changes to a block counts.
    assert job.thread_changes == dict.fromkeys((0, 1), ThreadChange((0.0, 1.0, 0.0)))
    assert job.topping == "water-soluble film"


@pytest.mark.parametrize(("said", "topped"), [('"film"', True), ('"none"', False), ('""', False)])
def test_whether_a_topping_lies_on_the_cloth(tmp_path: Path, said: str, topped: bool) -> None:
    (tmp_path / "job.toml").write_text(f"topping = {said}")
    assert make_job(str(tmp_path / "job.toml")).topped == topped


def test_without_a_file() -> None:
    job = make_job()
    assert (job.fabric.name, job.light.name, job.machine.name) == ("pique", "soft-studio", "unknown")
    assert (job.finish, job.seed, job.threads, job.blocks, job.facts) == ("off-machine", 0, (), {}, {})


def test_paths_count_from_the_job_file(job_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also from another folder; a name without such a file beside it is a preset's."""
    (job_file.parent / "list.csv").write_text("colour\nnavy\nred\n")
    (job_file.parent / "window").mkdir()  # a folder is no light
    (job_file.parent / "OURS.TOML").write_text("based_on = 'jersey'\n[stiffness]\nhole_give_mm = 0.3")
    job_file.write_text("threads = 'list.csv'\nmachine = 'shop.toml'\nlight = 'window'\nfabric = 'OURS.TOML'")
    elsewhere = job_file.parent / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    job = make_job("../job.toml")
    assert len(job.threads) == 2
    assert job.machine.title == "Ours"
    assert (job.light.name, job.fabric.name) == ("window", "OURS")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("fabrik = 'twill'", "'fabrik' is not known here; did you mean 'fabric'"),
        ("zzz = 1", "'zzz' is not known here; known are fabric, "),
        ("fabric = 3", "fabric must be text in quotes, not 3"),
        ("fabric = 'velvet'", "velvet"),
        ("fabric = ''", "fabric"),
        ("fabric_colour = 'blurple'", "fabric_colour: 'blurple' is no colour"),
        ("fabric_colour = 255", "fabric_colour must be text"),
        ("fabric_turn_deg = 'ninety'", "fabric_turn_deg must be a number"),
        ("finish = 'washed'", "finish is off-machine or cleaned, not 'washed'"),
        ("light = 'moon'", "there is no light 'moon'"),
        ("machine = 'loom'", "there is no machine 'loom'"),
        ("machine = 'none.toml'", "cannot read the machine file none.toml"),
        ("threads = 'none.csv'", "cannot read the thread list file none.csv"),
        ("threads = 3", "threads must be text"),
        ('threads = "a\\u0000b"', "no file can have that name"),
        (f"threads = '{'n' * 5000}'", "cannot read the thread list"),
        ("threads = 'a.csv'\n[[thread]]\ncolour = 'red'", "keep one"),
        ("[[thread]]\ncolour = 'redd'", "job.toml, thread 1: 'redd' is no colour"),
        ("seed = -1", "seed must be a number from 0"),
        ("seed = 1.5", "seed must be a whole number"),
        ("customer = ['a']", "customer must be text"),
        ("quantity = 0x" + "f" * 5000, "quantity is a number too long to show"),
        ("block = 3", "write each special block as a [[block]] table"),
        ("block = [3]", "write each special block as a [[block]] table"),
        ("[[block]]\nkind = 'open'", "number must be a number from 1 to 512, not None"),
        ("[[block]]\nnumber = 0\nkind = 'open'", "number must be a number from 1"),
        ("[[block]]\nnumber = 1", "kind is applique or foam or open, not None"),
        ("[[block]]\nnumber = 1\nkind = 'puff'", "kind is applique or foam or open, not 'puff'"),
        ("[[block]]\nnumber = 1\nkind = 'foam'", "block 1: height_mm must be a number from 0.1"),
        ("[[block]]\nnumber = 1\nkind = 'open'\ncolour = 'red'", "'colour' is not known here"),
        ("[[block]]\nnumber = 1\nkind = 'applique'\ncolour = 'rd'", "block 1: colour: 'rd' is no colour"),
        ("[[block]]\nnumber = 1\nkind = 'open'\n" * 2, "block 1: this block stands here twice"),
        ("[[block]]\nnumber = 2\nkind = 'applique'\nfabric = 'twil'", "block 2: there is no fabric 'twil'"),
        ("shop = ", "not valid TOML"),
    ],
    ids=lambda value: value[:50],
)
def test_jobs_that_cannot_be_used(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "job.toml").write_text(text)
    with pytest.raises(InputError) as error:
        make_job(str(tmp_path / "job.toml"))
    assert message in str(error.value)
    assert "\n" not in str(error.value)


def test_options_that_make_no_sense() -> None:
    with pytest.raises(UsageError, match="--thread '0=red'"):
        make_job(thread=("0=red",))
    with pytest.raises(InputError, match="--finish is off-machine or cleaned"):
        make_job(finish="shiny")
    with pytest.raises(InputError, match=r"cannot read the job file none\.toml"):
        make_job("none.toml")


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_damaged_job_file_is_a_job_or_an_input_error(job_file: Path, data: st.DataObject) -> None:
    raw = bytearray(JOB.encode())
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    job_file.write_bytes(raw)
    try:
        job = make_job(str(job_file))
    except InputError:
        return
    assert all(isinstance(value, str) for value in job.facts.values())


def documented(module: ModuleType) -> str:
    """The example in a module's docstring."""
    return (module.__doc__ or "").split("```toml\n")[1].split("```")[0]


def test_the_documented_job_file_works_and_names_every_key(tmp_path: Path) -> None:
    text = documented(job)
    (tmp_path / "crest.threads.toml").write_text("[[thread]]\ncolour = 'navy'\n")
    (tmp_path / "job.toml").write_text(text)
    made = make_job(str(tmp_path / "job.toml"))
    assert {block.kind for block in made.blocks.values()} == {"applique", "foam", "open"}
    (tmp_path / "job.toml").write_text(
        re.sub(r"^threads =.*|^# (?=\[\[|\w+ =)", "", text, flags=re.MULTILINE)
    )
    (thread,) = make_job(str(tmp_path / "job.toml")).threads
    assert (thread.kind, thread.label, thread.needle) == ("trilobal-polyester", "our navy", 3)
    for key in (*job.FACTS, *job._CHOICES, "threads"):
        assert re.search(rf"\b{key}\b", text), key


def test_the_documented_machine_profile_works_and_names_every_key(tmp_path: Path) -> None:
    text = documented(machines)
    (tmp_path / "own.toml").write_text(text)
    assert machines.load_machine(str(tmp_path / "own.toml")).needles == 6
    assert set(tomllib.loads(text)) == set(machines._KEYS)


def test_a_wrong_option_is_not_blamed_on_the_job_file(tmp_path: Path) -> None:
    path = tmp_path / "crest.job.toml"
    path.write_text('hoop = "hexagon"\n', "utf-8")
    with pytest.raises(InputError, match=r"crest\.job\.toml: hoop 'hexagon' is not known"):
        make_job(str(path))
    with pytest.raises(InputError, match=r"^--hoop 'octagon' is not known: choose round-120"):
        make_job(str(path), hoop="octagon")
