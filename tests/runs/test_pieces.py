"""Photographs joined to pieces by their names or by a sheet."""

from __future__ import annotations

from pathlib import Path

import pytest

from bubblegrade.errors import InputError
from bubblegrade.runs.inputs import Source
from bubblegrade.runs.pieces import Shown, by_name, by_pattern, check_names, read_pieces, shown_by, sides_lacking


def source(name: str) -> Source:
    return Source(Path(name), name, f"{name}.jpg")


@pytest.mark.parametrize(
    ("pattern", "name", "shown"),
    [
        ("{piece}-{side}", "jig-07-left.jpg", Shown("jig-07", "left")),
        ("{piece}-{side}", "lot/jig-07-left.jpg", Shown("lot/jig-07", "left")),
        ("{piece}-{side}", "jig.jpg", Shown("jig")),
        ("{side}_{piece}", "l_7.png", Shown("7", "l")),
        ("no{piece}", "no12.png", Shown("12")),
    ],
)
def test_a_name_tells_piece_and_side(pattern: str, name: str, shown: Shown) -> None:
    assert shown_by(by_pattern(pattern), source(name)) == shown


def test_without_a_rule_each_photograph_is_a_piece() -> None:
    assert by_name(source("lot/a-left.jpg")) == Shown("lot/a-left")


@pytest.mark.parametrize("pattern", ["{side}", "{piece}{piece}", "{piece}{side}{side}", "a"])
def test_a_pattern_must_say_what_the_piece_is(pattern: str) -> None:
    with pytest.raises(InputError, match="does not say what the piece is"):
        by_pattern(pattern)


@pytest.mark.parametrize("pattern", ["{piece}{side}", "{side}{piece}"])
def test_a_pattern_must_say_where_the_piece_ends(pattern: str) -> None:
    with pytest.raises(InputError, match="does not say where the piece ends"):
        by_pattern(pattern)


def test_a_pattern_that_fits_no_name_is_refused() -> None:
    """Each photograph would be a piece, and a batch decided by twice the pieces that were drawn."""
    sources = [source("a-left.jpg"), source("a-right.jpg")]
    with pytest.raises(InputError, match=r"--pieces \{side\}_\{piece\} fits no name, as that of a-left\.jpg"):
        check_names("{side}_{piece}", sources)
    check_names("{piece}-{side}", [*sources, source("b.jpg")])


@pytest.mark.parametrize(
    ("names", "lacking"),
    [
        ("a-left a-right b-left", {"b": "no photograph shows its side 'right', as of 1 of 2 pieces: photograph"}),
        ("a-left a-right a-top b-Top", {"b": "no photograph shows its sides 'left' and 'right', as of 1 of 2 pieces"}),
        ("a-left a-right b-left b-rigth", {"a": "its side 'rigth'", "b": "its side 'right'"}),
        ("a-left a-right b", {"b": "no photograph shows its sides 'left' and 'right'"}),
        ("a-left a-right b-right b-left", {}),
        ("a-left b-left", {}),
        ("a-left b-right", {}),
        ("a b", {}),
        ("a-left a-right", {}),
        ("a-left a-right b-left c-left", {}),  # one of three may have been photographed more closely
        ("a-left a-right b-left b-right c-left", {"c": "its side 'right', as of 2 of 3 pieces"}),
    ],
)
def test_a_piece_with_fewer_sides_is_noticed_also_of_two(names: str, lacking: dict[str, str]) -> None:
    said = sides_lacking(shown_by(by_pattern("{piece}-{side}"), source(f"{name}.jpg")) for name in names.split())
    assert said.keys() == lacking.keys()
    assert all(lacking[piece] in said[piece] for piece in said)


def test_a_sheet_names_photographs_pieces_and_sides(tmp_path: Path) -> None:
    (tmp_path / "lot").mkdir()
    for name in ("a.jpg", "b.jpg", "lot/c.jpg"):
        (tmp_path / name).touch()
    (tmp_path / "s.csv").write_text("Photo,piece,side\na.jpg,1,left\nb.jpg,1,right\nlot\\c.jpg,2\n", "utf-8-sig")
    rows = read_pieces(tmp_path / "s.csv")
    assert [row.shown for row in rows] == [Shown("1", "left"), Shown("1", "right"), Shown("2")]
    assert [row.path for row in rows] == [tmp_path / "a.jpg", tmp_path / "b.jpg", tmp_path / "lot" / "c.jpg"]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (b"photo,peice\na,1\n", "peice is not known of a piece: did you mean piece?"),
        (b"photo,side\na,1\n", "has no column piece"),
        (b"photo,piece\n", "has no row below its heading"),
        (b"photo,piece\na,\n", "line 2: piece is empty"),
        (
            b"photo,piece,side\ns.csv,7,l\ns.csv,7,r\ns.csv,7,l\n",
            "line 4: side l of piece 7 stands on line 2 already: name another",
        ),
        (b"photo,piece,side\ns.csv,7,Left\ns.csv,7,left\n", "line 3: side left of piece 7 stands on line 2 already"),
        (
            b"photo,piece,side\ns.csv,Jig 7,left\ns.csv,jig 7,right\n",
            "Jig 7 and jig 7 are one piece but for large and small letters: write it alike",
        ),
        (b"photo,piece\n,1\n", "line 2: photo is empty"),
        (b"photo,piece,piece\na,1,2\n", "piece stands there twice"),
        (b"photo,piece\na,1,left\n", "line 2 has 3 cells, the heading 2"),
        (b"photo,piece,side\ns.csv,1,left\ngone.jpg,1,right\n", "line 3: gone.jpg does not exist: check the name"),
        (b"photo,piece\n.,1\n", "line 2: . is a folder: name one photograph in each row"),
        (b"", "has no row below its heading"),
        (b"\xff\xfe", "is not text in UTF-8"),
    ],
)
def test_a_sheet_that_cannot_be_used_is_said(tmp_path: Path, text: bytes, said: str) -> None:
    (tmp_path / "s.csv").write_bytes(text)
    with pytest.raises(InputError) as caught:
        read_pieces(tmp_path / "s.csv")
    assert said in str(caught.value)
    with pytest.raises(InputError, match="cannot be opened"):
        read_pieces(tmp_path / "none.csv")


def test_a_side_that_a_sheet_names_twice_is_refused_and_sides_without_a_name_are_not(tmp_path: Path) -> None:
    for name in "abc":
        (tmp_path / name).touch()
    (tmp_path / "s.csv").write_text("photo,piece,side\na,7,l\nb,7,r\nc,7,l\n", "utf-8")
    with pytest.raises(InputError, match="line 4: side l of piece 7 stands on line 2 already: name another side, or"):
        read_pieces(tmp_path / "s.csv")
    (tmp_path / "t.csv").write_text("photo,piece\na,7\nb,7\n", "utf-8")
    assert [row.shown for row in read_pieces(tmp_path / "t.csv")] == [Shown("7"), Shown("7")]
