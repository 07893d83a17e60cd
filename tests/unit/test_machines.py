"""Machine profiles: the generic ones that ship, and the user's own."""

from __future__ import annotations

from pathlib import Path

import pytest

from render.errors import InputError
from render.materials.machines import load_machine, machine_names


def test_the_profiles_that_ship() -> None:
    assert set(machine_names()) == {"multi-needle", "single-needle", "no-trimmer", "unknown"}
    for name in machine_names():
        machine = load_machine(name)
        assert machine.name == name
        assert machine.needles >= 1
        assert machine.cap_speed_spm <= machine.speed_spm
    assert load_machine("multi-needle").needles == 15
    assert load_machine("single-needle").needles == 1


def test_what_they_cut() -> None:
    unknown = load_machine("unknown")
    assert (unknown.trimmer, unknown.trims_after_jumps, unknown.automatic_ties) == (None, None, None)
    without = load_machine("no-trimmer")
    assert (without.trimmer, without.trims_after_jumps) == (False, None)
    for name in ("multi-needle", "single-needle"):
        assert load_machine(name).trimmer is True


def test_speeds_lie_where_shops_run_them() -> None:
    """600 to 1000 stitches a minute, slower on caps: common practice, no source."""
    for name in machine_names():
        assert 500 <= load_machine(name).cap_speed_spm <= load_machine(name).speed_spm <= 1000


def test_a_profile_of_ones_own_need_only_say_what_it_knows(tmp_path: Path) -> None:
    (tmp_path / "ours.toml").write_text("trimmer = true\ntrims_after_jumps = 4\nfield_width_mm = 360")
    ours, unknown = load_machine(str(tmp_path / "ours.toml")), load_machine("unknown")
    assert (ours.name, ours.trimmer, ours.trims_after_jumps) == ("ours", True, 4)
    assert ours.field_mm == (360, unknown.field_mm[1])
    assert (ours.speed_spm, ours.automatic_ties) == (unknown.speed_spm, None)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("trimer = true", "'trimer' is not known here; did you mean 'trimmer'"),
        ("trimmer = 'yes'", "trimmer must be true or false, not 'yes'"),
        ("automatic_ties = 1", "automatic_ties must be true or false"),
        ("trimmer = false\ntrims_after_jumps = 3", "drop trims_after_jumps"),
        ("trimmer = false\ntrims_from_mm = 3", "drop trims_from_mm"),
        ("trims_from_mm = -1", "trims_from_mm must be a number from 0 to 200"),
        ("trims_after_jumps = 2.5", "trims_after_jumps must be a whole number, not 2.5"),
        ("trims_after_jumps = 0", "trims_after_jumps must be a number from 1 to 50"),
        ("needles = 'six'", "needles must be a number from 1 to 100, not 'six'"),
        ("needles = inf", "needles must be a number"),
        ("field_width_mm = 0", "field_width_mm must be a number from 10 to 5000"),
        ("speed_spm = -5", "speed_spm must be a number"),
    ],
)
def test_profiles_that_cannot_be_used(tmp_path: Path, text: str, message: str) -> None:
    (tmp_path / "own.toml").write_text(text)
    with pytest.raises(InputError) as error:
        load_machine(str(tmp_path / "own.toml"))
    assert message in str(error.value)
    assert "own.toml" in str(error.value)


def test_a_name_that_is_not_known() -> None:
    with pytest.raises(InputError, match="there is no machine 'multi'"):
        load_machine("multi")
