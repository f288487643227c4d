"""plumbend calibrate at the terminal."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_shop
from plumbend_cli.session.calibrating import run_calibration
from support.typist import Typist

SHOP = """# mine
units = "mm"   # as on the dies

[[die]]
name = "6"    # the big one
clr = 152.4
od = 44.45
reference_offset = 9   # old

# the next
[[die]]
name = "4"
clr = 114.3
"""
SQUARE = ["1000", "H1", "400", "93", "90", "586.6", "526.2"]
SMALL = ["1000", "", "400", "31.7", "30", "", ""]


def calibrated(folder: Path, *lines: str, die: str | None = "6", shop: str = SHOP) -> tuple[Typist, Path]:
    file = folder / "shop.toml"
    file.write_text(shop, encoding="utf-8")
    typist = Typist(lines)
    run_calibration(typist, str(file), die, "2026-05-31")
    return typist, file


def test_test_bends_become_figures_in_the_file(tmp_path: Path) -> None:
    typist, file = calibrated(tmp_path, *SQUARE, *SMALL, "", "y")
    text = file.read_text(encoding="utf-8")
    assert text.startswith('# mine\nunits = "mm"   # as on the dies\n')
    assert text.endswith('\n\n# the next\n[[die]]\nname = "4"\nclr = 114.3\n')
    assert "reference_offset = 12.0   # old\n" in text
    assert "earlier = [\n  { reference_offset = 9 },\n]" in text
    assert 'calibrated = { date = "2026-05-31", batch = "H1", good_to = { reference_offset = ' in text
    die = read_shop(file).dies[0]
    assert die.reference_offset == pytest.approx(12.0, abs=0.1)
    assert die.springback is not None
    assert die.springback.opens(1.5707963) == pytest.approx(0.05236, abs=2e-4)
    assert typist.has_read("Next test bend, which helps most: 180 degrees.")


def test_going_away_keeps_the_test_bends_and_writes_no_figures(tmp_path: Path) -> None:
    typist, file = calibrated(tmp_path, *SQUARE)
    text = file.read_text(encoding="utf-8")
    assert "reference_offset = 9   # old\n" in text
    assert "clamp_leg = 586.6" in text
    assert typist.has_read("Die 6, from 1 test bend")


def test_slips_are_asked_again(tmp_path: Path) -> None:
    wrong = ["1000", "", "1400", "93", "90", "", ""]
    typist, file = calibrated(tmp_path, "x", *wrong, "none")
    assert typist.has_read('"x" cannot be read as a length.')
    assert typist.has_read('"1400" is 1400 mm (55.118 in), no less than the sawn length.')
    assert typist.has_read("There are no test bends yet, so nothing is known.")
    assert file.read_text(encoding="utf-8") == SHOP


def test_a_die_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(BadFile) as caught:
        calibrated(tmp_path, die="5")
    assert str(caught.value) == f'{tmp_path / "shop.toml"}: there is no die "5". There are: "6", "4".'


def test_legs_need_the_od(tmp_path: Path) -> None:
    with pytest.raises(BadFile, match="the shop file does not give its od"):
        calibrated(tmp_path, "2", die=None)


def test_figures_typed_over_are_noticed_and_kept_without_a_day(tmp_path: Path) -> None:
    _, file = calibrated(tmp_path, *SQUARE, *SMALL, "", "y")
    assert read_shop(file).dies[0].retyped == ()
    written = file.read_text(encoding="utf-8")
    typed = re.sub(r"\nspringback = {.*}", "\nspringback = { degrees = 4, percent = 0 }", written)
    assert typed != written
    typist, file = calibrated(tmp_path, "", "y", shop=typed)
    assert typist.has_read("In the file springback was typed over since test bends told it: what is written here")
    assert "springback = { degrees = 4, percent = 0 } },\n" in file.read_text(encoding="utf-8")
    assert '{ date = "2026-05-31", batch' not in file.read_text(encoding="utf-8").partition("earlier")[2]
    assert read_shop(file).dies[0].retyped == ()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (
            ["1000", "H1", "586.6", "93", "90", "400", "526.2"],
            '"400" is no longer than the mark. The leg runs from the clamped end past the mark to the outside of the '
            "bend: are the two swapped?",
        ),
        (
            ["9000", "H1", "400", "93", "90", "586.6", "526.2"],
            '"9000" is 9000 mm (354.331 in), longer than any stick. Check the figure.',
        ),
        (
            ["1000", "H1", "400", "124", "120", "586.6", "526.2"],
            "by its legs this bend of 120.0 degrees used 236.4 mm (9.309 in) of tube, and its arc is some 319.2 mm "
            "(12.566 in). Check the sawn length, the angle and both legs: each runs from its end to the outside of the "
            "bend.",
        ),
        (
            ["1000", "H1", "400", "87", "90", "586.6", "526.2"],
            "it springs from 87.0 to 90.0 degrees. Check both: pointer is where it stopped under load, angle how far "
            "the bend turns from straight once let off.",
        ),
    ],
    ids=["mark and leg swapped", "sawn length", "the angle that is left", "pointer and angle swapped"],
)
def test_a_test_bend_that_cannot_be_is_asked_back_and_not_kept(typed: list[str], said: str, tmp_path: Path) -> None:
    typist, file = calibrated(tmp_path, *typed, "none")
    assert typist.has_read(f"{said} It was not kept. Type what is wrong anew; Enter keeps the rest as you had it.")
    assert file.read_text(encoding="utf-8") == SHOP


def test_of_a_test_bend_that_cannot_be_only_what_is_wrong_is_typed_anew(tmp_path: Path) -> None:
    wrong = ["1000", "H1", "1400", "39", "90", "586.6", "526.2"]
    typist, file = calibrated(tmp_path, *wrong, "", "", "400", "93", "", "", "none", "", "n")
    assert typist.has_read('Mark: "1400" is 1400 mm (55.118 in), no less than the sawn length.')
    assert typist.has_read("Pointer: it springs from 39.0 to 90.0 degrees.")
    assert "line" not in " ".join(typist.asked)
    assert "Mark, from the end that was clamped [1400] > " in typist.asked
    assert "Leg from the other end [526.2] > " in typist.asked
    text = file.read_text(encoding="utf-8")
    assert 'batch = "H1", sawn = 1000, mark = 400, pointer = 93, angle = 90, clamp_leg = 586.6 }' in text


def test_a_die_is_chosen_by_its_radius_as_well(tmp_path: Path) -> None:
    shop = SHOP.replace('"4"\nclr = 114.3', '"4"\nclr = 114.3\nod = 44.45\n[[die]]\nname = "other"\nclr = 114.3')
    typist, _ = calibrated(tmp_path, *SQUARE, "", "n", die="152.4")
    assert typist.has_read("Die 6, from 1 test bend")
    with pytest.raises(BadFile) as caught:
        calibrated(tmp_path, die="4-1/2", shop=shop)
    assert str(caught.value) == (
        f'{tmp_path / "shop.toml"}: "4-1/2" is the radius of 2 dies. There are: "6", "4", "other".'
    )


def test_figures_that_no_die_has_leave_the_file_as_it_was(tmp_path: Path) -> None:
    square, small = ["1000", "H1", "400", "89", "90", "", ""], ["1000", "", "400", "29.2", "30", "", ""]
    typist, file = calibrated(tmp_path, *square, *small, "", "y")
    assert typist.has_read("Springback: ")
    assert typist.has_read("Not written. Read the test bends again, and correct them in the file.")
    assert typist.has_read("lets a bend of 90 degrees open by -1.0, which no tube does.")
    die = read_shop(file).dies[0]  # the file can still be read
    assert (die.reference_offset, die.springback) == (9.0, None)
