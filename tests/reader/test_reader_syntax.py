# SPDX-License-Identifier: MIT
"""Brackets, strings, places in errors, and everything that is not a board."""

from __future__ import annotations

from pathlib import Path

import pytest
import reader_docs as docs
import shapely
from reader_docs import board, document, footprint

import lineworthy_kicad.reader as reader
from lineworthy import InputError
from lineworthy_kicad.reader import parse_board, read_board, sexpr
from lineworthy_kicad.reader.sexpr import Document, each, kids, number, unquoted, word

SEGMENT = '(segment (start 1 2) (end 3 4) (width 0.2) (layer "F.Cu") (net 1) (uuid "s"))'


def error(text: str) -> InputError:
    with pytest.raises(InputError) as caught:
        parse_board(text, "x.kicad_pcb")
    assert "\n" not in str(caught.value)
    return caught.value


def children(text: str) -> list[list[object]]:
    return list(Document(text, "x").children())


@pytest.mark.parametrize(
    ("token", "text"),
    [
        ("plain", "plain"),
        ('"with space"', "with space"),
        (r'"a \"b\" c"', 'a "b" c'),
        (r'"a\\"', "a\\"),
        (r'"two\nlines"', "two\nlines"),
        (r'"\x41\101\t"', "AA\t"),
        ('""', ""),
    ],
)
def test_quoted_text_loses_quotes_and_escapes(token: str, text: str) -> None:
    assert unquoted(token) == text


def test_children_of_every_spelling_give_the_same_nodes() -> None:
    expected = [["a", "1", "2"], ["b", '"x y"', ["c", "-3.5"]], ["d"]]
    assert children('(kicad_pcb (a 1 2) (b "x y" (c -3.5)) (d))') == expected
    assert children('(kicad_pcb\n\t(a 1\n\t\t2)\n\t(b\n\t\t"x y"\n\t\t(c -3.5)\n\t)\n\t(d)\n)\n') == expected
    assert children('  ( kicad_pcb(a 1 2)\r\n( b"x y"(c   -3.5 ) )( d ))\n ') == expected


def test_a_block_of_points_is_kept_whole_and_a_mixed_one_is_not() -> None:
    (poly,) = children("(kicad_pcb (gr_poly (pts (xy 1 2) (xy 3 -4e-1))))")
    assert kids(poly)["pts"] == ["pts", "(pts (xy 1 2) (xy 3 -4e-1))"]
    (poly,) = children("(kicad_pcb (gr_poly (pts (xy 1 2) (arc (start 0 0) (mid 1 1) (end 2 0)))))")
    assert [part[0] for part in kids(poly)["pts"][1:]] == ["xy", "arc"]


@pytest.mark.parametrize("size", [1, 2, 3, 7, 20, 64])
def test_where_the_text_is_cut_into_chunks_does_not_matter(size: int, monkeypatch: pytest.MonkeyPatch) -> None:
    text = document(
        r'(property "A \" ) (B" "C \\")',
        '(gr_poly (pts (xy 0 0) (xy 10 0) (xy 10 10)) (width 0.1) (fill yes) (layer "F.SilkS"))',
        '(embedded_files (file (data |a(b"c\nd|)))',
        "(net 1 GND)",
        SEGMENT,
    )
    whole = children(text)
    assert len(whole) == 10
    monkeypatch.setattr(sexpr, "_CHUNK", size)
    monkeypatch.setattr(sexpr, "_CHUNK_MAX", 1)
    pieces = children(text)
    assert [c[0] for c in pieces] == [c[0] for c in whole]
    assert pieces[5] == whole[5] == ["property", r'"A \" ) (B"', r'"C \\"']
    assert pieces[7:] == whole[7:]
    monkeypatch.setattr(sexpr, "_CHILD_MARKS", ())
    assert [c[0] for c in children(text)] == [c[0] for c in whole]


def test_the_bracket_that_one_version_left_out_is_put_back() -> None:
    broken = (
        '(kicad_pcb (via (at 1 2) (teardrops (curved_edges no)filter_ratio 0.9) (enabled yes)) (size 0.6)) (net 1 "x"))'
    )
    via, net = children(broken)
    assert each(via, "size")
    assert each(each(via, "teardrops")[0], "filter_ratio") == [["filter_ratio", "0.9"]]
    assert net[0] == "net"


def test_unknown_nodes_and_words_are_passed_over() -> None:
    with_more = board("(unheard_of (of 1 (deep)) word)", SEGMENT.replace("(width", "(new yes) stray (width"))
    assert len(with_more.tracks) == 1


def test_accessors_name_the_node_that_lacks_something() -> None:
    with pytest.raises(sexpr.Malformed, match="'at' lacks a number") as caught:
        number(["at", "1"], 2)
    assert caught.value.node == ["at", "1"]
    with pytest.raises(sexpr.Malformed, match="'net' lacks its value"):
        word(["net", ["x"]])
    for wrong in ("nan", "inf", "1e9", "x"):
        with pytest.raises(sexpr.Malformed):
            number(["at", wrong])


def test_an_error_names_file_line_and_reason() -> None:
    text = document("(net 1)", "(segment (start 1 2)\n (end 3 oops)\n (width 1))", SEGMENT)
    problem = error(text)
    assert (problem.file, problem.place) == ("x.kicad_pcb", "line 4")
    assert text.splitlines()[3] == " (end 3 oops)"
    assert problem.reason == "'end' holds 'oops' where a number belongs"


@pytest.mark.parametrize("indent", ["\n\t", "\n  ", "\n"])
def test_an_error_inside_a_footprint_names_its_own_line(indent: str) -> None:
    lines = [
        "(kicad_pcb (version 20241229)",
        '(gr_poly (pts (xy 1 2) (xy 2 3) (xy 4 4)) (width 0.1) (fill yes) (layer "F.SilkS"))',
        footprint("(fp_poly (pts (xy 1 2)\n(xy 2 3)) (layer F.Cu))", '(pad "1" smd rect (at 0 0)\n(size 1 z))'),
        SEGMENT,
        ")",
    ]
    text = indent.join(lines)
    problem = error(text)
    line = int(problem.place.removeprefix("line "))
    assert "(size 1 z)" in text.splitlines()[line - 1]


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "the file is empty"),
        (" \n\t", "the file is empty"),
        ("hello", "not a board document"),
        ("((((", "not a board document"),
        ("(kicad_sch (version 1))", "a schematic, not a board"),
        ('(footprint "R" (version 20241229))', "a library footprint, not a board"),
        ("(kicad_pcb)", "names no format version"),
        ("(kicad_pcb (version 20171130) (host pcbnew 5))", "written by version 5 of the editor or older"),
        ('(kicad_pcb (version 4) (host pcbnew "(2015"))', "written by version 5 of the editor or older"),
        ('(kicad_pcb (version 20241229) (module "x" (at 0 0)))', "written by version 5 of the editor or older"),
        ("(kicad_pcb (version x))", "the format version is not a number"),
        ("(kicad_pcb (version 20241229)", "the document ends before its last bracket is closed"),
        ('(kicad_pcb (version 20241229) (net 1 "x', "the document ends before its last bracket is closed"),
        ("(kicad_pcb (version 20241229) " + "(a " * 10_000, "brackets nested more than 64 deep"),
        ("(kicad_pcb (version 20241229)) )", "the text goes on behind the document's last bracket"),
        ("(kicad_pcb (version 20241229))\n(kicad_pcb", "the text goes on behind the document's last bracket"),
    ],
)
def test_what_is_no_board_is_refused_in_one_line(text: str, reason: str) -> None:
    assert error(text).reason.startswith(reason)


def test_every_truncation_is_refused() -> None:
    text = document(
        SEGMENT, footprint('(property "Reference" "R1" (at 0 0))', f'(pad "1" smd rect (at 0 0) (size 1 1) {docs.SMD})')
    )
    body = text.rstrip()
    for end in range(len(body)):
        error(body[:end])


def test_files_that_cannot_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def reason(path: Path) -> str:
        with pytest.raises(InputError) as caught:
            read_board(path)
        assert caught.value.file == str(path)
        return f"{caught.value.place} {caught.value.reason}".strip()

    assert reason(tmp_path / "none.kicad_pcb") == "no such file"
    assert reason(tmp_path) == "a folder, not a file"
    file = tmp_path / "x.kicad_pcb"
    for content, expected in [
        (b"", "the file is empty"),
        (b" \n ", "the file is empty"),
        (b"\0\1\2", "not a text file"),
        (b"\x89PNG\r\n\x1a\n", "line 1 not text in UTF-8"),
        (document().encode("utf-16"), "line 1 not text in UTF-8"),
        (document('(net 1 "x")').encode() + b"\xff", "line 4 not text in UTF-8"),
    ]:
        file.write_bytes(content)
        assert reason(file) == expected
    file.write_text(document())
    monkeypatch.setattr(reader, "SIZE_MAX", 10)
    monkeypatch.setattr(Path, "read_bytes", lambda _: pytest.fail("read although too large"))
    assert reason(file).startswith("larger than")


def test_a_file_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    file = tmp_path / "Ünïcode board.kicad_pcb"
    file.write_bytes(b"\xef\xbb\xbf" + document('(net 1 "GND")', SEGMENT).encode())
    read = read_board(file)
    assert (read.name, read.path, read.tracks[0].net) == ("Ünïcode board", str(file), "GND")


def test_a_shape_too_tangled_for_the_geometry_library_is_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    def gives_up(_: object) -> None:
        raise shapely.GEOSException("std::bad_alloc")

    monkeypatch.setattr(shapely, "make_valid", gives_up)
    bow_tie = "(gr_poly (pts (xy 0 0) (xy 4 4) (xy 4 0) (xy 0 4)) (width 0) (fill yes) (layer F.SilkS))"
    assert error(document(bow_tie)).reason == "holds a shape nobody can make sense of (std::bad_alloc)"


@pytest.mark.parametrize("mid", ["-1 0.0000001", "5000 0.01"])
def test_an_arc_beyond_any_board_is_refused(mid: str) -> None:
    for item in (
        f'(arc (start 0 0) (mid {mid}) (end 1 0) (width 0.2) (layer "F.Cu"))',
        f'(gr_arc (start 0 0) (mid {mid}) (end 1 0) (width 0.2) (layer "F.SilkS"))',
        f'(gr_poly (pts (arc (start 0 0) (mid {mid}) (end 1 0)) (xy 1 1)) (width 0.2) (layer "F.SilkS"))',
    ):
        problem = error(document(item))
        assert "beyond any board" in problem.reason
        assert problem.place == "line 2"
