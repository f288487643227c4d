"""Templates read back from their files: scale, outline, words that can be read, sheets that join."""

from __future__ import annotations

import functools
import io
import math
from dataclasses import replace
from itertools import combinations, pairwise
from xml.etree import ElementTree

import ezdxf
import numpy as np
import pypdfium2
import pytest
from ezdxf.lldxf.encoding import decode_dxf_unicode

from plumbend.ends.cuts import EndCut
from plumbend.ends.template import Template, template
from plumbend.frames import FloatArray
from plumbend.units import Units
from plumbend_cli.templates.drawing import spread
from plumbend_cli.templates.dxf import dxf
from plumbend_cli.templates.pages import MARGIN, OVERLAP, SIZES, Paper, windows
from plumbend_cli.templates.pdf import pdf
from plumbend_cli.templates.svg import svg
from support.cut_ends import EVERY, MITRE, NODE_OF_TWO, SLANTED, SMALL, SQUARE, TILED, header
from support.printed import Sheet, sheets

PAPERS: list[tuple[Paper, Units]] = [("a4", "mm"), ("letter", "in")]
both_papers = pytest.mark.parametrize(("paper", "units"), PAPERS, ids=["a4", "letter"])
every_cut = pytest.mark.parametrize("cut", EVERY.values(), ids=EVERY)


@functools.cache
def printed(name: str, paper: Paper, units: Units) -> tuple[Template, list[Sheet]]:
    """A template with 24 lines, and all its sheets as read back."""
    made = template(EVERY[name], 24, units)
    return made, sheets(pdf([made], paper, units))


def drawn(made: Template, paper: Paper, units: Units) -> list[Sheet]:
    """The sheets that the template itself is on."""
    return [sheet for sheet in sheets(pdf([made], paper, units)) if sheet.bars()]


@both_papers
@pytest.mark.parametrize("name", EVERY)
def test_page_bars_and_outline_are_true(name: str, paper: Paper, units: Units) -> None:
    made, pages = printed(name, paper, units)
    cut = made.cut
    for sheet in [page for page in pages if page.bars()]:
        assert sorted(sheet.size) == pytest.approx(sorted(SIZES[paper]), abs=0.1)
        assert sheet.bars() == pytest.approx([100.0, 101.6], abs=0.1)
        outline = sheet.thickest()
        assert np.ptp(outline[:, 0]) == pytest.approx(math.pi * (cut.leg.od + 0.1), abs=0.1)
        assert np.ptp(outline[:, 1]) == pytest.approx(float(np.ptp(made.line[:, 1])), abs=0.1)
        assert outline - outline[0] == pytest.approx(made.line - made.line[0], abs=0.1)


@both_papers
@pytest.mark.parametrize("name", EVERY)
def test_words_are_on_the_page_clear_of_each_other_and_of_the_cut(name: str, paper: Paper, units: Units) -> None:
    _, pages = printed(name, paper, units)
    tiled = sum(bool(page.bars()) for page in pages) > 1
    for page in pages:
        for a, b in combinations(page.words, 2):
            wide = min(a.box[2], b.box[2]) - max(a.box[0], b.box[0])
            tall = min(a.box[3], b.box[3]) - max(a.box[1], b.box[1])
            assert wide <= 0 or tall <= 0, (a.text, b.text)
        for words in page.words:
            left, bottom, right, top = words.box
            if not tiled:  # what a further sheet shows lies beyond the edge here
                assert min(left, bottom, page.size[0] - right, page.size[1] - top) > MARGIN - 1, words.text
            if page.bars():
                x, y = page.thickest().T
                assert not ((x > left) & (x < right) & (y > bottom) & (y < top)).any(), words.text


def text_of(data: bytes) -> str:
    document = pypdfium2.PdfDocument(data)
    try:
        return "\n".join(document[k].get_textpage().get_text_range() for k in range(len(document)))
    finally:
        document.close()


def test_what_a_page_says() -> None:
    text = " ".join(text_of(pdf([template(SLANTED, 8, "in")], "letter", "in")).split())
    for said in (
        "stretcher rail, left, F end",
        "Tube 1-3/4 in (44.45 mm) OD, wall 0.094 in (2.4 mm)",
        "ladder hoop: joint 45.0° (square is 90), notcher 45.0° (square is 0)",
        "Check both bars with a rule. Not true? Print again at 100 %, not fitted to the page, or draw the cut by rule.",
        "it is 5-1/2 in wide. Wrap it in one tight layer, printed side out, arrow toward the cut end, "
        "LINE on the inside of the nearest bend; the sides butt at the back.",
        "The lower edge lies 4 in back from where the centrelines meet: 7-13/16 in past the end of the bend",
        "Cut along the dashed line first: it leaves 1/8 in on, to be worked down to the thick line.",
        "throat, short point 1-7/8 up, 140° right of LINE",
        "This gives shape, not strength, and certifies nothing. Try it on a scrap first.",
        "KEEP",
        "SEAM, at the back",
    ):
        assert text.count(said) == 1 or said == "stretcher rail, left, F end", said
    assert "mitre: 60.0° (square is 90), saw 30.0° (square is 0)" in text_of(pdf([template(MITRE)], "a4", "mm"))
    square = text_of(pdf([template(SQUARE)], "a4", "mm"))
    assert "square cut: 90.0° (square is 90), saw 0.0° (square is 0)" in square
    assert "One straight saw cut along the thick line is the whole cut." in square


def test_table_is_that_of_the_template() -> None:
    made = template(NODE_OF_TWO, 8)
    words = [words for page in sheets(pdf([made], "a4", "mm")) for words in page.words]
    foot = next(words.box[1] for words in words if words.text.strip() == "inside")
    rows: dict[int, list[str]] = {}
    for one in sorted(words, key=lambda one: one.box[0]):
        if one.box[1] < foot and one.text[0].isdigit():
            rows.setdefault(round(one.box[1] / 2), []).append(one.text.strip())
    assert [rows[k] for k in sorted(rows, reverse=True)] == [
        [str(number), *(f"{mm:.1f}" for mm in (line.arc, line.outer - made.edge, line.inner - made.edge))]
        for number, line in enumerate(made.table, 1)
    ]


@both_papers
def test_sheets_of_a_large_template_join_by_their_crosses(paper: Paper, units: Units) -> None:
    made = template(TILED, units=units)
    first, second = drawn(made, paper, units)
    assert first.crosses().keys() == second.crosses().keys() == {"A", "B"}
    for name, place in first.crosses().items():
        on_first = first.thickest() - np.array(place)
        on_second = second.thickest() - np.array(second.crosses()[name])
        assert on_first == pytest.approx(on_second, abs=0.1)
    text = " ".join(text_of(pdf([made], paper, units)).split())
    assert "TEMPLATE, sheet 1 of 2" in text
    assert "Lay crosses of one letter on each other and tape the sheets together." in text


def test_each_sheet_shows_its_part_of_the_cut() -> None:
    made = template(TILED)
    data = pdf([made], "a4", "mm")
    document, scale = pypdfium2.PdfDocument(data), 4.0
    shown = []
    for k, sheet in enumerate(drawn(made, "a4", "mm")):
        picture = document[k].render(scale=scale).to_numpy()
        x, y = (sheet.thickest() * scale * 72 / 25.4).T
        on = (x > 0) & (x < picture.shape[1])
        dark = np.zeros(len(x), dtype=bool)
        dark[on] = picture[(picture.shape[0] - y[on]).astype(int), x[on].astype(int)].max(axis=1) < 60
        shown.append(dark)
    document.close()
    assert (shown[0] | shown[1]).all()
    assert 0 < (shown[0] & shown[1]).sum() < 0.2 * len(made.line)


@pytest.mark.parametrize("box", [(-160.0, 0.0, 160.0, 90.0), (-40.0, 0.0, 40.0, 700.0), (-300.0, -5.0, 300.0, 600.0)])
def test_windows_cover_a_drawing_and_overlap(box: tuple[float, float, float, float]) -> None:
    found = windows(box, 190.0, 240.0)
    for window in found:
        left, bottom, right, top = window.box
        assert right - left <= 190.0 + 1e-9
        assert top - bottom <= 240.0 + 1e-9
    places = np.random.default_rng(1).uniform(box[:2], box[2:], (2000, 2))
    held = [
        (places >= np.array(window.box[:2]) - 1e-9).all(axis=1)
        & (places <= np.array(window.box[2:]) + 1e-9).all(axis=1)
        for window in found
    ]
    assert np.any(held, axis=0).all()
    lefts = sorted({window.box[0] for window in found})
    wide = found[0].box[2] - found[0].box[0]
    assert [b - a for a, b in pairwise(lefts)] == pytest.approx([wide - OVERLAP] * (len(lefts) - 1))
    marks = [cross.name for window in found for cross in window.crosses]
    assert {marks.count(name) for name in marks} == {2}


def test_viewers_are_told_not_to_scale() -> None:
    assert b"/PrintScaling /None" in pdf([template(SMALL)], "a4", "mm")


def test_several_ends_go_into_one_file() -> None:
    pages = sheets(pdf([template(SMALL), template(MITRE)], "a4", "mm"))
    assert sum(bool(page.bars()) for page in pages) == 2


def test_names_in_any_letters_do_not_stop_it() -> None:
    odd = replace(SMALL, tube="Träger <5> & Кран")
    assert "Träger <5> &" in text_of(pdf([template(odd)], "a4", "mm"))
    made = template(odd, paper=0.0)
    root = ElementTree.fromstring(svg(made, "mm"))
    assert root.findtext("{*}title") == "Träger <5> & Кран, F end"
    texts = ezdxf.read(io.StringIO(dxf(made, "mm").decode("cp1252"))).modelspace().query("TEXT")
    assert decode_dxf_unicode(texts[0].dxf.text).startswith("Träger <5> & Кран, F end.")


def polylines(root: ElementTree.Element, group: str) -> list[FloatArray]:
    found = root.findall(f".//{{*}}g[@id='{group}']/{{*}}polyline")
    return [np.array([place.split(",") for place in line.attrib["points"].split()], dtype=float) for line in found]


@every_cut
def test_svg_holds_the_flat_pattern_in_true_millimetres(cut: EndCut) -> None:
    made = template(cut, paper=0.0)
    root = ElementTree.fromstring(svg(made, "mm"))
    left, top, wide, tall = map(float, root.attrib["viewBox"].split())
    assert (root.attrib["width"], root.attrib["height"]) == (f"{wide:.4f}mm", f"{tall:.4f}mm")
    (line,) = polylines(root, "cut")
    assert line * [1, -1] == pytest.approx(made.square_to_wall, abs=1e-4)
    assert np.ptp(line[:, 0]) == pytest.approx(math.pi * cut.leg.od, abs=1e-3)
    assert line[:, 0].min() > left
    assert line[:, 1].min() > top
    for group, edge in zip(("outside-edge", "inside-edge"), made.edges, strict=True):
        assert polylines(root, group)[0] * [1, -1] == pytest.approx(edge, abs=1e-4)
    assert len(polylines(root, "first-cut")) == (cut.allowance > 0)
    notes = root.findtext("{*}desc") or ""
    assert "Flat pattern in mm of the tube's outside, without paper: seen from outside, the cut end up" in notes
    assert "CUT is for a head square to the wall" in notes


@every_cut
def test_dxf_holds_the_same_pattern(cut: EndCut) -> None:
    made = template(cut, paper=0.0)
    document = ezdxf.read(io.StringIO(dxf(made, "mm").decode("cp1252")))
    assert document.units == ezdxf.units.MM
    assert not document.audit().has_errors
    lines = document.modelspace().query("LWPOLYLINE")
    layers: dict[str, list[FloatArray]] = {}
    for line in lines:
        layers.setdefault(line.dxf.layer, []).append(np.array(line.get_points("xy")))
    (outline,) = layers["CUT"]
    assert outline == pytest.approx(made.square_to_wall, abs=1e-9)
    assert layers["OUTSIDE EDGE"][0] == pytest.approx(made.edges[0], abs=1e-9)
    assert layers["INSIDE EDGE"][0] == pytest.approx(made.edges[1], abs=1e-9)
    assert ("FIRST CUT" in layers) == (cut.allowance > 0)
    assert {"LINE", "SEAM", "LOWER EDGE", "QUARTER LINES"} < layers.keys()
    assert {"CUT", "WORDS"} < {layer.dxf.name for layer in document.layers}


def test_labels_in_a_row_are_spread_clear_of_each_other() -> None:
    assert spread([0.0, 1.0, 39.0], [10.0, 10.0, 10.0], 40.0) == pytest.approx([0.0, 12.0, 35.0])


@pytest.mark.parametrize(
    ("bend_angle", "named"), [(None, "LINE: your line"), (math.radians(45), "LINE: inside of bend")]
)
def test_a_short_name_of_the_line_says_what_the_long_one_does(bend_angle: float | None, named: str) -> None:
    # the throat lies on the line, and leaves little room for its name
    leg = replace(SLANTED.leg, bend_angle=bend_angle, bend_radius=None if bend_angle is None else 152.4)
    made = template(replace(SLANTED, leg=leg, neighbours=(header("ladder hoop", 44.45, 45),)))
    (sheet,) = drawn(made, "a4", "mm")
    assert [words.text.strip() for words in sheet.words if words.text.startswith("LINE: ")] == [named]
