"""The file of acceptance limits: what it may say, and the one line for what it may not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bubblegrade.errors import SettingsError
from bubblegrade.inspection.limits import Length
from bubblegrade.inspection.shapes import AroundHardware, Box, Everywhere, Oval, Polygon
from bubblegrade.runs.limit_presets import PRESETS
from bubblegrade.runs.limits_file import read_limits, read_limits_file

FULL = """
name = "my jig"
head = ["eye", "thick end"]
belly = "down"
unsure = "count"
reference = "jig.jpg"
[zones.face]
shape = "box"
along = [0.0, 0.3]
across = [0, 1]
largest = "0.02in"
count = 3
count_over = "200um"
cover = "2.5%"
[zones.spot]
shape = "oval"
middle = [0.5, 0.5]
half = [0.1, 0.2]
clarity = 80
[zones.mark]
shape = "polygon"
corners_px = [[10, 10], [20, 10], [20, 30]]
from_surface = "12px"
[zones.metal]
shape = "hardware"
margin = "2mm"
from_hardware = "0.3 mm"
[zones.piece]
shape = "all"
cluster = 4
cluster_within = "2mm"
cluster_over = "0.1mm"
unjudged = 0.4
"""
BOX = '[zones.face]\nshape = "box"\nalong = [0.0, 0.3]\nacross = [0.0, 1.0]\n'
POLYGON = '[zones.p]\nshape = "polygon"\nlargest = "1mm"\n'
ALL = '[zones.piece]\nshape = "all"\n'


def test_a_full_file_is_read() -> None:
    limits = read_limits(FULL, name="jig.toml")
    assert (limits.name, limits.head, limits.belly) == ("my jig", ("eye", "thick end"), ("down",))
    assert (limits.unsure, limits.reference, limits.in_mm) == ("count", "jig.jpg", True)
    shapes = [zone.shape for zone in limits.zones]
    assert shapes == [
        Box((0.0, 0.3), (0.0, 1.0)),
        Oval((0.5, 0.5), (0.1, 0.2)),
        Polygon(((10.0, 10.0), (20.0, 10.0), (20.0, 30.0)), on_reference=True),
        AroundHardware(Length(2.0, "mm")),
        Everywhere(),
    ]
    face, _, mark, _, piece = (zone.allowed for zone in limits.zones)
    assert face.largest is not None
    assert face.largest.value == pytest.approx(0.508)
    assert (face.count, face.cover, face.unjudged) == (3, 0.025, 0.25)
    assert mark.from_surface == Length(12.0, "px")
    assert (piece.cluster, piece.cluster_over, piece.unjudged) == (4, Length(0.1, "mm"), 0.4)


def test_limits_in_px_need_no_scale() -> None:
    assert not read_limits(f'{ALL}largest = "9px"', name="a").in_mm
    assert read_limits('[zones.m]\nshape = "hardware"\nmargin = "1mm"\nlargest = "9px"', name="a").in_mm


@pytest.mark.parametrize("share", ['"2,5%"', '"0,025"', '"0.025"', "0.025", '"2.5 %"'])
def test_a_share_is_read_however_it_is_written(share: str) -> None:
    (zone,) = read_limits(f"{ALL}cover = {share}", name="a.toml").zones
    assert zone.allowed.cover == pytest.approx(0.025)


@pytest.mark.parametrize("preset", PRESETS)
def test_a_preset_is_read_says_that_it_is_no_standard_and_explains_every_key(preset: str) -> None:
    limits = read_limits(PRESETS[preset], name=preset)
    assert len(limits.zones) >= 2
    assert limits.in_mm
    assert f'the preset "{preset}"' in PRESETS[preset]
    assert "no standard" in PRESETS[preset]
    for key in ("largest", "count_over", "cover", "from_hardware", "from_surface", "cluster_over", "clarity", "margin"):
        assert re.search(rf"#.* {key} ", PRESETS[preset])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("a = ", "x.toml is not TOML"),
        ("", "x.toml: no zone is given"),
        (f"naem = 'a'\n{ALL}largest = '1mm'", "naem is not known of acceptance limits: did you mean name?"),
        (f'{BOX}largset = "1mm"', "largset is not known of the zone face: did you mean largest?"),
        ("[zones]\nface = 3", "zones.face = 3 is no table"),
        (f'{ALL}largest = "1mm"\nhead = "left"', "head is said once for all zones: write it above the first of them"),
        ('[zones.face]\nlargest = "1mm"', "face has no shape: add one of all, box"),
        ('[zones.face]\nshpae = "box"\nalong = [0, 1]', "shpae is not known of the zone face: did you mean shape?"),
        ('[zones.face]\nshape = "hardwear"', "face: shape 'hardwear' is not known: did you mean hardware?"),
        (f'{ALL}along = [0, 1]\nlargest = "1mm"', "piece: along is nothing of the shape all, which has none"),
        (f"{ALL}largest = 0.5", "piece: largest = 0.5 has no unit: write it in quotes, such as \"0.5mm\""),
        (f'{ALL}largest = "0.5"', "piece: largest 0.5 has no unit: write 0.5mm"),
        (f'{ALL}largest = "-3px"', "piece: largest -3px is no length above zero"),
        (f'{ALL}largest = "threepx"', "is no length above zero"),
        (f"{ALL}cover = true", "piece: cover = True is no share from 0 to 1"),
        (f'{ALL}cover = "1,000"', "1,000 can be read in two ways: write 1.000 or 1000"),
        (f'{ALL}cover = "200%"', "piece: cover = '200%' is no share from 0 to 1"),
        (f"{ALL}cover = true", "is no share from 0 to 1"),
        (f"{ALL}count = 2.5", "piece: count = 2.5 is no whole number from 0 on"),
        (f"{ALL}clarity = 120", "piece: clarity = 120 is no clarity: give 0 to 100"),
        (ALL, "piece asks for nothing"),
        (f'{ALL}count_over = "1mm"', "piece: count_over says nothing without count"),
        (f'{ALL}largest = "1mm"\ncluster = 3', "piece: cluster says nothing without cluster_within"),
        (f'{ALL}count = 1\ncount_over = "0.6mm"\nlargest = "0.5mm"', "count_over 0.6 mm contradicts largest 0.5 mm"),
        (
            f'{ALL}cluster_within = "2mm"\ncluster_over = "0.5mm"\nlargest = "0.5mm"',
            "cluster_over 0.5 mm contradicts largest 0.5 mm",
        ),
        (
            '[zones.m]\nshape = "hardware"\nmargin = "2px"\nfrom_hardware = "8px"',
            "m: from_hardware 8 px reaches beyond the margin 2 px",
        ),
        (f'head = "eyes"\n{ALL}largest = "1mm"', "head 'eyes' is not known: did you mean eye?"),
        (f'head = 3\n{ALL}largest = "1mm"', "head = 3 is no list of rules"),
        (f'head = ["left", "right"]\n{ALL}largest = "1mm"', "head: left and right contradict each other"),
        (f'unsure = "counted"\n{ALL}largest = "1mm"', "unsure = 'counted' is not known: did you mean count?"),
        (f'name = 3\n{ALL}largest = "1mm"', "name = 3 is not text in quotes"),
        (f'reference = "a.jpg"\n{ALL}largest = "1mm"', "reference says nothing without a zone that has corners_px"),
        ('[zones.m]\nshape = "hardware"\nlargest = "1mm"', "m has no margin around the hardware"),
        (BOX.replace("0.3", "1.3") + 'largest = "1mm"', "face: along = [0.0, 1.3] lies outside the piece"),
        (BOX.replace("0.0, 0.3", "0.3, 0.1") + 'largest = "1mm"', "face: along = [0.3, 0.1] does not rise"),
        (BOX.replace("[0.0, 0.3]", "0.3") + 'largest = "1mm"', "face: along = 0.3 is no pair of fractions"),
        ('[zones.o]\nshape = "oval"\nmiddle = [0.5, 0.5]\nhalf = [0, 1]\nlargest = "1mm"', "half = [0.0, 1.0] has no"),
        (POLYGON + "corners = [[0, 0]]", "p: corners = [[0, 0]] are no corners"),
        (POLYGON + "corners = [[0, 0], [1, 1], [1, 0], [0, 1]]", "p: the line through its corners crosses itself"),
        (POLYGON + "corners = [[0.1, 0.1], [0.3, 0.3], [0.7, 0.7]]", "p: corners lie on one line"),
        (POLYGON + "corners = [[0, 0], [9, 0], [9, 9]]", "corners lie outside the piece"),
        (POLYGON + "corners_px = [[0, 0], [9, 0], [9, 9]]", "add reference"),
        ('[zones.p]\nshape = "polygon"\ncorners = [[0,0]]\ncorners_px = [[0,0]]\ncount = 1', "both give the polygon"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_one_line_with_its_cure(text: str, said: str) -> None:
    with pytest.raises(SettingsError) as caught:
        read_limits(text, name="x.toml")
    assert str(caught.value).startswith("x.toml")
    assert said in str(caught.value)
    assert "\n" not in str(caught.value).removeprefix("x.toml is not TOML")


def test_limits_without_a_name_are_called_after_their_file() -> None:
    assert read_limits(f'{ALL}largest = "1mm"', name="mine/lure.toml").name == "lure"


def test_a_file_that_cannot_be_read_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\xff\xfe")
    with pytest.raises(SettingsError, match="is not text in UTF-8"):
        read_limits_file(tmp_path / "a.toml")
    with pytest.raises(SettingsError, match="cannot be opened"):
        read_limits_file(tmp_path / "b.toml")
    (tmp_path / "c.toml").write_text(FULL, "utf-8")
    assert read_limits_file(tmp_path / "c.toml").name == "my jig"
