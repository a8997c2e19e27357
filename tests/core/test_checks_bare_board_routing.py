# SPDX-License-Identifier: MIT
"""Nets that copper does not join, and artwork in copper that joins what it should not."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

import build
from asking import ask, only
from lineworthy import Board, Consequence
from lineworthy.checks.bare_board_routing import artwork_joins_nets, net_in_pieces
from lineworthy.knowledge.artwork import letters
from lineworthy.knowledge.gaps import layers, net_of
from lineworthy.knowledge.routing import Routing
from lineworthy.model import (
    CopperArea,
    Graphic,
    Marking,
    Outline,
    OutlineFault,
    PadRole,
    Part,
    Stackup,
    Track,
)
from transform import Motion, mirrored, moved, quarter_turns, transform

HOLD, QUERY, NOTE = Consequence.HOLD, Consequence.QUERY, Consequence.NOTE


def pair(reference: str, x: float, y: float = 10.0, **more: Any) -> Part:
    """A chip whose second land is on net A; the first one's net is its own."""
    return build.chip(reference, (x, y), nets=("", "A"), **more)


LEFT, RIGHT = pair("R1", 10.0), pair("R2", 20.0)
A, B = (10.8, 10.0), (20.8, 10.0)
"""Where the two lands of net A are."""


UNDER = build.track((1.0, 1.0), (9.0, 1.0), layer="bottom", net="C")
"""So that not all copper is on one layer."""


def answers(
    parts: Sequence[Part] = (LEFT, RIGHT), tracks: Sequence[Track] = (), **items: Any
) -> list[tuple[Consequence, str]]:
    found = ask(net_in_pieces, build.board(parts=tuple(parts), tracks=(*tracks, UNDER), **items))
    return [(one.consequence, one.message) for one in found]


def joined(parts: Sequence[Part] = (LEFT, RIGHT), **items: Any) -> bool:
    """Whether net A is of one piece, on a board where another net is routed in full."""
    return answers(parts, **items) == []


STUB = build.track((10.8, 10.0), (12.0, 10.0), net="A")
IN_PIECES = [(HOLD, "Copper does not join all parts of 1 net: A (2 pieces)")]


# --- what joins ------------------------------------------------------------------------------------------------------


def test_a_track_from_pad_to_pad_joins_and_one_that_ends_short_does_not() -> None:
    assert joined(tracks=(build.track(A, B, net="A"),))
    # the land begins at x = 20.4: the round end of a track 0.2 mm wide reaches 0.1 mm further than the track
    assert joined(tracks=(build.track(A, (20.3, 10.0), net="A"),))
    assert answers(tracks=(build.track(A, (20.299, 10.0), net="A"),)) == IN_PIECES


@pytest.mark.parametrize("turns", range(4))
@pytest.mark.parametrize("motion", [moved(3.0, -2.0), mirrored()])
def test_it_is_the_same_wherever_the_board_lies(turns: int, motion: Motion) -> None:
    for end, count in ((20.3, 0), (20.299, 1)):
        board = build.board(parts=(LEFT, RIGHT), tracks=(build.track(A, (end, 10.0), net="A"),))
        placed = transform(transform(board, quarter_turns(turns)), motion)
        found = ask(net_in_pieces, placed)
        assert len(found) == count
        assert [one.message for one in found] == [one.message for one in ask(net_in_pieces, board)]
        assert [one.fingerprint for one in found] == [one.fingerprint for one in ask(net_in_pieces, board)]


def test_tracks_join_where_they_cross_or_touch_not_only_at_their_ends() -> None:
    across = build.track((15.0, 5.0), (15.0, 15.0), net="A")
    assert joined(tracks=(build.track(A, (16.0, 10.0), net="A"), across, build.track((15.0, 14.0), B, net="A")))
    assert not joined(tracks=(build.track(A, (14.0, 10.0), net="A"), across, build.track((15.0, 14.0), B, net="A")))


def test_a_curved_track_joins() -> None:
    bow = Track("bow", A, B, 0.2, "top", "A", mid=(15.8, 15.0))
    assert joined(tracks=(bow,))
    assert not joined(tracks=(replace(bow, end=(20.8, 12.0)),))


def test_tracks_on_two_layers_are_joined_by_a_via_and_by_nothing_else() -> None:
    over, under = build.track(A, (15.0, 10.0), net="A"), build.track((15.0, 10.0), B, layer="bottom", net="A")
    parts = (LEFT, pair("R2", 20.0, side=build.BOTTOM))
    assert not joined(parts, tracks=(over, under))
    assert joined(parts, tracks=(over, under), vias=(build.via((15.0, 10.0), net="A"),))
    assert not joined(parts, tracks=(over, under), vias=(build.via((15.0, 11.0), net="A"),))


def test_a_buried_via_joins_the_layers_of_its_span_only() -> None:
    four = ("top", "in1", "in2", "bottom")
    tracks = (build.track(A, (15.0, 10.0), net="A"), build.track((15.0, 10.0), B, layer="in2", net="A"))
    up = replace(build.via(B, net="A"), uid="up", span=("top", "in2"))
    for span, whole in ((("top", "in2"), True), (("top", "in1"), False), (("in1", "bottom"), False)):
        via = replace(build.via((15.0, 10.0), net="A"), span=span)
        assert joined(copper_layers=four, tracks=tracks, vias=(via, up)) is whole


def test_a_via_without_a_land_on_a_layer_joins_nothing_there() -> None:
    tracks = (build.track(A, (15.0, 10.0), net="A"), build.track((15.0, 10.0), B, layer="bottom", net="A"))
    via = build.via((15.0, 10.0), net="A")
    ends = build.via(B, net="A")
    assert joined(tracks=tracks, vias=(via, ends))
    assert not joined(tracks=tracks, vias=(replace(via, landless=frozenset({"bottom"})), ends))


def test_a_plated_hole_joins_its_layers() -> None:
    post = build.through_part("J1", (15.0, 10.0), nets=("A",))
    tracks = (build.track(A, (15.0, 10.0), net="A"), build.track((15.0, 10.0), B, layer="bottom", net="A"))
    parts = (LEFT, post, pair("R2", 20.0, side=build.BOTTOM))
    assert joined(parts, tracks=tracks)
    assert not joined(parts, tracks=tracks[:1])


def test_lands_that_overlap_are_joined() -> None:
    one = build.part("J1", (10, 10), [build.pad("1", (10.0, 10.0), 1.0, net="A", uid="one")])
    for x, whole in ((11.0, True), (11.001, False)):
        other = build.part("J2", (x, 10), [build.pad("1", (x, 10.0), 1.0, net="A", uid="other")])
        assert joined((one, other), tracks=(build.track((1, 1), (2, 2), net="A"),)) is whole


def test_a_fill_joins_what_lies_on_it_and_what_its_edge_touches() -> None:
    over_both = build.pour(shapely.box(9.0, 8.0, 22.0, 12.0), net="A")
    assert joined(areas=(over_both,))
    # spokes of a thermal relief: the fill ends in the land
    up_to = build.pour(shapely.box(11.1, 9.9, 20.5, 10.1), net="A")
    assert joined(areas=(up_to,))
    assert not joined(areas=(build.pour(shapely.box(11.1, 9.9, 20.3, 10.1), net="A"),))
    assert not joined(areas=(replace(over_both, net="B"),))


def test_the_pieces_of_a_fill_are_not_joined_and_a_land_in_a_hole_of_it_is_not() -> None:
    two = shapely.MultiPolygon([shapely.box(9.0, 8.0, 15.0, 12.0), shapely.box(16.0, 8.0, 22.0, 12.0)])
    assert not joined(areas=(build.pour(two, net="A"),))
    assert joined(areas=(build.pour(two, net="A"),), tracks=(build.track((14.0, 9.0), (17.0, 9.0), net="A"),))
    ringed = shapely.box(9.0, 8.0, 22.0, 12.0).difference(shapely.box(19.5, 9.0, 21.5, 11.0))
    assert not joined(areas=(build.pour(ringed, net="A"),))


def test_fills_of_two_pours_are_joined_where_they_overlap_and_through_vias() -> None:
    one = build.pour(shapely.box(9.0, 8.0, 15.0, 12.0), net="A", uid="one")
    other = build.pour(shapely.box(14.0, 9.0, 22.0, 11.0), net="A", uid="other")
    assert joined(areas=(one, other))
    inside = build.pour(shapely.box(12.0, 9.0, 14.0, 11.0), net="A", uid="inside")
    tail = build.track((13.0, 10.5), B, 0.2, net="A")
    assert joined(areas=(one, inside), tracks=(tail,))
    below = replace(other, layer="bottom")
    assert not joined(areas=(one, below))
    assert joined(areas=(one, below), vias=(build.via((14.5, 10.0), net="A"), build.via(B, net="A")))


def test_a_pour_that_is_not_filled_counts_as_if_it_were() -> None:
    waiting = CopperArea("pour", "top", "A", boundary=shapely.box(9.0, 8.0, 22.0, 12.0), unfilled=True)
    assert joined(areas=(waiting,))
    assert not joined(areas=(replace(waiting, unfilled=False),))
    assert not joined(areas=(replace(waiting, net="B"),))
    assert not joined(areas=(replace(waiting, boundary=shapely.box(9.0, 8.0, 19.0, 12.0)),))


def test_copper_without_a_net_joins_what_it_lies_over() -> None:
    line = build.graphic(shapely.LineString([A, B]).buffer(0.1), build.COPPER_TOP)
    assert joined(graphics=(line,), tracks=(STUB,))
    assert joined(graphics=(replace(line, net="A"),), tracks=(STUB,))
    assert not joined(graphics=(replace(line, net="B"),), tracks=(STUB,))
    assert joined(tracks=(build.track(A, B),))
    assert not joined(tracks=(build.track(A, B, net="B"), STUB))


def test_a_part_joins_pads_its_footprint_says_it_does() -> None:
    lands = [build.pad("1", A, net="A", uid="a"), build.pad("2", B, net="A", uid="b")]
    link = build.part("W1", (15, 10), lands)
    assert answers((link,), tracks=(STUB,)) == IN_PIECES
    assert joined((replace(link, joined=(frozenset({"1", "2"}),)),), tracks=(STUB,))


def test_zero_length_tracks_and_a_part_of_one_pad() -> None:
    assert not joined(tracks=(build.track(A, A, net="A"), build.track(B, B, net="A")))
    assert joined((LEFT,), tracks=(STUB,))


# --- what is said ----------------------------------------------------------------------------------------------------


def test_the_finding_names_nets_and_shows_where_they_are_open() -> None:
    found = only(ask(net_in_pieces, build.board(parts=(LEFT, RIGHT), tracks=(STUB, UNDER))))
    assert found.consequence is HOLD
    assert found.message == "Copper does not join all parts of 1 net: A (2 pieces)"
    place = only(found.places)
    assert place.label == "A: R2 pad 2 to track A, 8.30 mm"  # from 12.1, the round end of the track, to 20.4
    assert place.at == pytest.approx((20.4, 10.0))
    assert found.uids == ("part-R2", "R2.2")


def test_test_pads_holes_and_parts_not_fitted_are_a_query() -> None:
    said = (
        "Copper does not join all pads of 1 net: A (2 pieces);"
        " what it leaves out are test pads, holes, marks or parts not fitted"
    )
    for left_out in (build.probe_pad("TP1", B, "A"), pair("R2", 20.0, fitted=False)):
        assert answers((LEFT, left_out), tracks=(STUB,)) == [(QUERY, said)]
    tie = build.part(
        "NT1", (20, 10), [build.pad("1", B, net="A"), build.pad("2", (22, 10), net="B")], package="NetTie-2_SMD"
    )
    assert answers((LEFT, tie), tracks=(STUB,)) == IN_PIECES


def test_on_a_board_of_one_copper_layer_wire_links_are_likely() -> None:
    found = only(ask(net_in_pieces, build.board(parts=(LEFT, RIGHT), tracks=(STUB,))))
    assert found.consequence is QUERY
    assert found.message == (
        "Copper does not join all parts of 1 net: A (2 pieces);"
        " all copper is on one layer, and nothing says where wire links go"
    )
    via = build.via((30, 30), net="C")
    assert only(ask(net_in_pieces, build.board(parts=(LEFT, RIGHT), tracks=(STUB,), vias=(via,)))).consequence is HOLD


def test_a_shell_and_pads_of_one_number_are_a_note() -> None:
    said = "Copper does not join all pads of 1 net: A (2 pieces); a part may, by its shell or pads of one number"

    def plug(one: str, other: str, **more: Any) -> Part:
        lands = [build.pad(one, A, net="A", uid="a", **more), build.pad(other, B, net="A", uid="b", **more)]
        return build.part("J1", (15, 10), lands, package="USB_C_Receptacle")

    items = {"tracks": (STUB,)}
    assert answers((plug("1", "1"),), **items) == [(NOTE, said)]
    assert answers((plug("S1", "S2", pin_name="SHIELD"),), **items) == [(NOTE, said)]
    assert answers((plug("SH1", "SH2"),), **items) == [(NOTE, said)]
    assert answers((plug("1", "2"),), **items) == IN_PIECES
    assert answers((replace(plug("1", "1"), fitted=False),), **items)[0][0] is QUERY


def test_more_than_half_of_the_nets_without_copper_is_a_board_that_is_not_routed() -> None:
    spots = {net: ((5.0 + 10 * n, 30.0), (5.0 + 10 * n, 20.0)) for n, net in enumerate("DEF")}
    parts = [
        build.part(f"{net}{n}", at, [build.pad("1", at, net=net, uid=f"{net}{n}.1")])
        for net, ends in spots.items()
        for n, at in enumerate(ends, 1)
    ]
    routed = {net: build.track(*ends, net=net) for net, ends in spots.items()}
    assert answers(parts) == [(HOLD, "Not routed: 3 of 3 nets have no copper besides pads")]
    assert answers(parts, tracks=(routed["D"],)) == [(HOLD, "Not routed: 2 of 3 nets have no copper besides pads")]
    short = build.track(spots["D"][0], (5.0, 25.0), net="D")
    assert answers(parts, tracks=(short,)) == [
        (HOLD, "Not routed: 2 of 3 nets have no copper besides pads, 1 more is in pieces")
    ]
    # half of them is not more than half
    half = [*parts[:4]], (routed["D"],)
    assert "Copper does not join all pads of 1 net: E (2 pieces)" in only(answers(half[0], tracks=half[1]))[1]


def test_pins_marked_as_not_connected_and_boards_without_nets_are_not_asked() -> None:
    lands = [build.pad("1", spot, net="unconnected-(J1-NC-Pad1)", uid=str(spot)) for spot in (A, B)]
    assert answers((build.part("J1", (15, 10), lands),)) == []
    assert answers((build.chip("R1", (10, 10)), build.chip("R2", (20, 10)))) == []
    assert answers(()) == []


def test_on_a_panel_each_board_is_asked_by_itself() -> None:
    copies = [
        replace(build.chip(f"R{n}", (x + 2.5 * n, 10.0), nets=("", "A")), uid=f"R{n}@{x}")
        for x in (0.0, 30.0)
        for n in range(1, 5)
    ]
    tracks = [build.track((x + 3.3, 10.0), (x + 10.8, 10.0), net="A") for x in (0.0, 30.0)]
    apart = shapely.MultiPolygon([shapely.box(0, 0, 25, 20), shapely.box(28, 0, 55, 20)])
    panel = {"outline": replace(build.outline(60, 20), area=apart)}
    assert answers(copies, tracks=tracks, **panel) == []
    assert answers(copies, tracks=tracks[:1], **panel) == [
        (
            QUERY,
            "Copper does not join all parts of 1 net: A (4 pieces),"
            " within one of the boards or between copies that share their names",
        )
    ]
    # copies on one outline that nothing parts: a person has to look
    assert answers(copies, tracks=tracks)[0][0] is QUERY


# --- against a search without index ----------------------------------------------------------------------------------


def by_hand(board: Board) -> dict[str, int]:
    """Pieces of each net by uniting all of its copper, layer by layer, and following pads and vias."""
    counts = {}
    for net in board.pads_by_net:
        lumps = []
        for name in board.copper_layers:
            drawn = [
                shapely.LineString(t.path).buffer(t.width / 2, 64)
                for t in board.tracks
                if (t.net, t.layer) == (net, name)
            ]
            drawn += [shapely.Point(v.at).buffer(v.diameter / 2, 64) for v in board.vias if v.net == net]
            drawn += [p.copper[name] for _, p in board.pads_by_net[net] if name in p.copper]
            drawn += [area.fill for area in board.areas if (area.net, area.layer) == (net, name)]
            lumps += [(name, lump) for lump in shapely.get_parts(shapely.union_all(drawn))]
        groups = [{n} for n in range(len(lumps))]
        through = [v.at for v in board.vias if v.net == net]
        through += [p.at for _, p in board.pads_by_net[net] if p.hole]
        for spot in through:
            met = [g for g in groups if any(lumps[n][1].intersects(shapely.Point(spot)) for n in g)]
            groups = [g for g in groups if g not in met] + ([set().union(*met)] if met else [])
        pads = [(name, shape) for _, p in board.pads_by_net[net] for name, shape in p.copper.items()]
        counts[net] = sum(
            any(lumps[n][0] == name and lumps[n][1].intersects(shape) for n in g for name, shape in pads)
            for g in groups
        )
    return counts


@pytest.mark.parametrize("seed", range(12))
def test_pieces_are_those_a_search_without_an_index_finds(seed: int) -> None:
    random = np.random.default_rng(seed)

    def spot() -> tuple[float, float]:
        return tuple((random.integers(2, 58, 2) / 1.0).tolist())  # type: ignore[return-value]

    nets = "ABC"
    parts = []
    for n in range(30):
        net = nets[n % 3]
        make = build.through_pad("1", spot(), 1.7, 1.0, net=net, uid=f"p{n}") if n % 4 else None
        land = make or build.pad("1", spot(), (1.4, 0.9), net=net, uid=f"p{n}", rotation=float(random.integers(0, 90)))
        parts.append(build.part(f"X{n}", land.at, [land]))
    tracks = [
        replace(build.track(spot(), spot(), 0.3, layer=("top", "bottom")[n % 2], net=nets[n % 3]), uid=f"t{n}")
        for n in range(18)
    ]
    vias = [replace(build.via(spot(), net=nets[n % 3]), uid=f"v{n}") for n in range(12)]
    areas = [
        build.pour(
            shapely.Point(spot()).buffer(6).difference(shapely.Point(spot()).buffer(2)), net=net, uid=f"a{net}{n}"
        )
        for net in nets
        for n in range(2)
    ]
    board = build.board(60, 60, parts=tuple(parts), tracks=tuple(tracks), vias=tuple(vias), areas=tuple(areas))
    routing = Routing(board, tuple(layers(board)))
    ours = {net: len(routing.pieces(lands)) for net, lands in board.pads_by_net.items()}
    assert ours == by_hand(board)
    assert {torn.net: len(torn.pieces) for torn in routing.torn()} == {n: k for n, k in ours.items() if k > 1}
    for torn in routing.torn():
        ends = routing.open_ends(torn)
        assert len(ends) == len(torn.pieces) - 1
        assert all(net_of(end.one) == net_of(end.other) == torn.net for end in ends)


# --- edges and cut-outs ----------------------------------------------------------------------------------------------


def cut(*cutouts: shapely.Polygon, parts: Sequence[Part] = (LEFT, RIGHT), **items: Any) -> bool:
    """Whether net A, a track 0.2 mm wide along y = 10 from x = 10.8 to 20.8, is in pieces on a board with cut-outs."""
    tracks = items.pop("tracks", (build.track(A, B, net="A"),))
    return not joined(
        parts, tracks=tracks, outline=items.pop("outline", build.outline(60, 40, cutouts=cutouts)), **items
    )


def test_a_cut_out_parts_a_track() -> None:
    assert cut(shapely.box(15, 9, 16, 11))
    assert cut(shapely.box(15, 9.9, 15.1, 10.1))
    assert not cut(shapely.box(15, 9.91, 16, 12))  # ten micrometres are left
    assert not cut(shapely.box(15, 11, 16, 12))
    edge = Outline(shapely.box(0, 0, 60, 40).difference(shapely.box(15, -1, 16, 11)), uids=("notched",))
    assert cut(outline=edge)
    # what goes round on the other side of the cut-out joins
    round_it = [build.track(one, other, net="A") for one, other in ((A, (10.8, 14)), ((10.8, 14), (20.8, 14)))]
    assert not cut(
        shapely.box(15, 9, 16, 11), tracks=(build.track(A, B, net="A"), *round_it, build.track((20.8, 14), B, net="A"))
    )


def test_a_track_that_a_cut_out_parts_waits_for_no_wire_link() -> None:
    slot = build.outline(60, 40, cutouts=(shapely.box(15, 9, 16, 11),))
    for tracks, consequence in (((build.track(A, B, net="A"),), HOLD), ((STUB,), QUERY)):
        made = build.board(parts=(LEFT, RIGHT), tracks=tracks, outline=slot)
        assert only(ask(net_in_pieces, made)).consequence is consequence


def test_only_a_closed_outline_and_bare_edges_part_copper() -> None:
    hole = shapely.box(15, 9, 16, 11)
    doubtful = replace(build.outline(60, 40, cutouts=(hole,)), faults=(OutlineFault("open", (0, 0), 0.1),))
    assert not cut(outline=doubtful)
    assert not cut(hole, stackup=Stackup(edge_plated=True))


def test_curved_tracks_and_drawings_are_parted() -> None:
    bow = Track("bow", A, B, 0.2, "top", "A", mid=(15.8, 15.0))
    assert cut(shapely.box(15, 14, 16, 16), tracks=(bow,))
    assert not cut(shapely.box(15, 9, 16, 11), tracks=(bow,))
    bar = build.graphic(shapely.box(10.5, 9.8, 21.0, 10.2), build.COPPER_TOP, net="A")
    assert cut(shapely.box(15, 9, 16, 11), tracks=(), graphics=(bar,))
    assert not cut(shapely.box(15, 9, 16, 10), tracks=(), graphics=(bar,))


def test_a_hole_whose_middle_is_gone_joins_no_layers() -> None:
    tracks = (build.track(A, (15.0, 10.0), net="A"), build.track((15.0, 10.0), B, layer="bottom", net="A"))
    parts = (LEFT, pair("R2", 20.0, side=build.BOTTOM))
    vias = (build.via((15.0, 10.0), 1.2, net="A"),)
    assert not cut(parts=parts, tracks=tracks, vias=vias)
    assert cut(shapely.box(14.9, 9.9, 15.1, 11), parts=parts, tracks=tracks, vias=vias)
    # the wall is open, and half of it is left
    assert not cut(shapely.box(15.0, 10.05, 15.3, 11), parts=parts, tracks=tracks, vias=vias)


def test_a_land_whose_hole_is_milled_away_is_cut_off() -> None:
    post = build.through_part("J1", (20.8, 10.0), nets=("A",))
    assert not cut(parts=(LEFT, post))
    assert cut(shapely.box(20, 9, 22, 11), parts=(LEFT, post))
    # a slot drawn into the land, and half a hole at the edge
    assert not cut(shapely.box(20.4, 9.8, 21.2, 10.2), parts=(LEFT, post))
    assert not cut(parts=(LEFT, post), outline=build.outline(20.8, 40))
    assert cut(parts=(LEFT, post), outline=build.outline(20.7, 40))
    half = replace(post, pads=tuple(replace(pad, role=PadRole.CASTELLATED) for pad in post.pads))
    assert not cut(parts=(LEFT, half), outline=build.outline(20.7, 40))


def test_lands_that_reach_over_the_edge_and_copper_off_the_board_stay_as_they_are() -> None:
    assert not cut(outline=build.outline(20.8, 40))
    assert not cut(outline=build.outline(5, 40))


# --- artwork ---------------------------------------------------------------------------------------------------------

NETS = (
    build.through_part("J1", (5.0, 5.0), nets=("A", "B", "C")),
    build.through_part("J2", (25.0, 5.0), nets=("A", "B", "C")),
)
RAILS = (
    build.track((5.0, 20.0), (45.0, 20.0), 0.5, net="A"),
    build.track((5.0, 22.0), (45.0, 22.0), 0.5, net="B"),
)


def art(*graphics: Graphic, markings: Sequence[Marking] = (), parts: Sequence[Part] = NETS, **items: Any) -> list[Any]:
    board = build.board(parts=tuple(parts), graphics=graphics, markings=tuple(markings), tracks=RAILS, **items)
    return ask(artwork_joins_nets, board)


def bar(top: float, bottom: float = 19.0, x: float = 30.0, **more: Any) -> Graphic:
    uid = f"bar{x}-{top}-{bottom}"
    return build.graphic(shapely.box(x, bottom, x + 1.0, top), build.COPPER_TOP, uid, **more)


def test_a_drawing_over_two_nets_is_a_hold() -> None:
    found = only(art(bar(23.0)))
    assert found.consequence is HOLD
    assert found.message == "1 drawing in copper without a net on top over copper of A, B"
    assert only(found.places).label == "A and B"
    assert found.uids == ("bar30.0-23.0-19.0",)


def test_a_drawing_that_reaches_the_second_net_by_nothing_joins_nothing() -> None:
    assert len(art(bar(21.75))) == 1  # the lower edge of the track on B
    assert art(bar(21.749)) == []
    assert art(replace(bar(23.0), layer=build.COPPER_BOTTOM)) == []
    assert art(replace(bar(23.0), net="A")) == []  # a short between nets, which the check on gaps tells


def test_drawings_that_touch_each_other_join_as_one() -> None:
    assert len(only(art(bar(21.0), bar(23.0, 20.9, 30.5))).uids) == 2
    assert art(bar(21.0), bar(23.0, 21.1, 30.5)) == []


def test_a_part_may_join_its_own_nets_by_its_own_drawing_and_no_others() -> None:
    tie = build.part(
        "NT1",
        (30, 21),
        [build.pad("1", (30.5, 20.0), 0.4, net="A"), build.pad("2", (30.5, 22.0), 0.4, net="B")],
        package="NetTie-2_SMD",
    )
    assert art(bar(23.0, part_uid="part-NT1"), parts=(*NETS, tie)) == []
    logo = build.part("LOGO1", (30, 21))
    assert len(art(bar(23.0, part_uid="part-LOGO1"), parts=(*NETS, logo))) == 1


def test_nets_that_lead_nowhere_are_no_short() -> None:
    assert art(bar(23.0), parts=(build.through_part("J1", (5.0, 5.0), nets=("A", "B")), *NETS[1:2])) != []
    assert art(bar(23.0), parts=(build.through_part("J1", (5.0, 5.0), nets=("A", "B")),)) == []


def test_a_drawing_inside_a_fill_that_is_out_of_date_joins_it() -> None:
    fill = build.pour(shapely.box(28, 10, 34, 21.0), net="C")
    assert only(art(bar(21.9, 20.5), areas=(fill,))).message.endswith("over copper of B, C")
    inside = bar(19.0, 18.0)
    assert art(inside, areas=(fill,)) == []


# --- other copper without a net --------------------------------------------------------------------------------------


def loose(tracks: Sequence[Track] = (), parts: Sequence[Part] = (), **items: Any) -> list[Any]:
    """What is told of copper without a net beside the two rails, A at y = 20 and B at y = 22, on top."""
    made = build.board(parts=(*NETS, *parts), tracks=(*RAILS, *tracks), **items)
    return ask(artwork_joins_nets, made)


def test_a_track_a_via_a_land_and_a_pour_without_a_net_join_as_a_drawing_does() -> None:
    land = build.part("TP1", (30, 21), [build.round_pad("1", (30.0, 21.0), 2.0, uid="land")])
    bare = build.pour(shapely.box(29.0, 19.0, 31.0, 23.0), net="")
    for items, said, label in (
        ({"tracks": (build.track((30, 20), (30, 22)),)}, "on top (1 track)", "track without net: A and B"),
        ({"vias": (build.via((30.0, 21.0), 2.0),)}, "on bottom, top (1 via)", "via without net: A and B"),
        ({"parts": (land,)}, "on top (1 pad)", "TP1 pad 1: A and B"),
        ({"areas": (bare,)}, "on top (1 pour)", "pour without net: A and B"),
    ):
        found = only(loose(**items))
        assert found.consequence is HOLD
        assert found.message == f"Copper without a net {said} joins copper of A, B"
        assert only(found.places).label == label


def test_copper_without_a_net_that_touches_one_net_or_none_is_no_short() -> None:
    # the rails are 0.5 mm wide: B begins at y = 21.75
    assert loose(tracks=(build.track((30, 20), (30, 21.649), 0.2),)) == []
    assert len(loose(tracks=(build.track((30, 20), (30, 21.651), 0.2),))) == 1
    assert loose(tracks=(build.track((30, 20), (30, 22), layer="bottom"),)) == []
    assert loose(vias=(build.via((30.0, 20.0)),)) == []
    assert loose(areas=(build.pour(shapely.box(29.0, 23.0, 31.0, 24.0), net=""),)) == []


def test_pieces_without_a_net_that_touch_each_other_are_one_on_all_layers() -> None:
    up, down = build.track((30, 20), (33, 19)), build.track((40, 22), (33, 24), layer="bottom")
    under = build.track((33, 19), (33, 24), layer="bottom")
    vias = (build.via((33.0, 19.0)), build.via((40.0, 22.0)))
    found = only(loose(tracks=(up, under, down), vias=vias))
    assert found.message == "Copper without a net on bottom, top (2 vias, 3 tracks) joins copper of A, B"
    assert loose(tracks=(up, down), vias=vias) == []
    assert loose(tracks=(up, under, down), vias=vias[1:]) == []
    drawn = build.graphic(shapely.box(29.5, 20.0, 30.5, 21.2), build.COPPER_TOP)
    found = only(loose(tracks=(build.track((30, 21), (30, 22)),), graphics=(drawn,)))
    assert found.message == "Copper without a net on top (1 drawing, 1 track) joins copper of A, B"


@pytest.mark.parametrize("plated", [True, False])
def test_the_lands_of_a_hole_are_joined_by_its_wall(plated: bool) -> None:
    post = build.part("J9", (30, 20), [build.through_pad("1", (30.0, 20.0), 1.6, 0.8, plated=plated)])
    below = build.track((30, 20), (40, 22), layer="bottom")
    found = loose(tracks=(below,), parts=(post,), vias=(build.via((40.0, 22.0)),))
    assert len(found) == plated


def test_copper_in_the_midst_of_a_fill_touches_it() -> None:
    over = build.pour(shapely.box(29, 2, 38, 15.0), net="C", uid="over")
    under = build.pour(shapely.box(29, 2, 38, 15.0), net="A", uid="under", layer="bottom")
    via = build.via((33.0, 8.0))
    assert only(loose(vias=(via,), areas=(over, under))).message.endswith("joins copper of A, C")
    assert loose(vias=(via,), areas=(over, replace(under, net="C"))) == []
    bare = replace(over, net="")
    foreign = (build.via((31.0, 8.0), net="A"), build.via((35.0, 8.0), net="B"))
    assert only(loose(vias=foreign, areas=(bare,))).message.endswith("joins copper of A, B")
    assert loose(vias=foreign[1:], areas=(bare,)) == []


def test_a_land_without_a_net_may_join_what_lies_beside_it_in_its_part() -> None:
    lands = [
        build.pad(str(n), (30.0, y), 1.2, net=net, uid=net) for n, y, net in ((1, 20, "A"), (2, 21, ""), (3, 22, "B"))
    ]
    assert loose(parts=(build.part("JP1", (30, 21), lands, package="SolderJumper-3"),)) == []
    apart = build.part("U1", (30, 21), [lands[1], *(build.pad("9", (50.0, y), net=n) for y, n in ((9, "A"), (5, "B")))])
    assert len(loose(tracks=(build.track((30, 20), (30, 22), net=""),), parts=(apart,))) == 1
    tie = build.part("NT1", (30, 21), [build.pad("1", (30.0, 21.0), (1.0, 3.0))], package="NetTie-2_SMD_Pad0.5mm")
    assert loose(parts=(tie,)) == []
    assert len(loose(parts=(replace(tie, package="Land"),))) == 1


def text(words: str, at: tuple[float, float], height: float = 2.6, **more: Any) -> Marking:
    return build.marking(words, at, build.COPPER_TOP, height, **more)


def test_letters_over_two_nets_are_a_query() -> None:
    found = only(art(markings=[text("REV A", (25.0, 21.0))]))
    assert found.consequence is QUERY
    assert found.message == "1 text in copper on top, 'REV A', with letters over copper of A, B"
    assert art(markings=[text("REV A", (25.0, 21.0), hidden=True)]) == []
    assert art(markings=[text("REV A", (25.0, 21.0), height=1.0)]) == []  # between the two
    assert art(markings=[replace(text("REV A", (25.0, 21.0)), layer=build.LEGEND_TOP)]) == []


def test_a_text_joins_letter_by_letter() -> None:
    """Side by side letters are not joined: one over A and its neighbour over B are no short."""
    turned = replace(text("HI", (25.0, 21.0)), extents=shapely.box(24.5, 18.0, 25.5, 24.0), rotation=90.0, height=1.0)
    boxes = letters(turned)
    assert [tuple(np.round(box.bounds, 3)) for box in boxes] == [(24.5, 18.0, 25.5, 21.0), (24.5, 21.0, 25.5, 24.0)]
    assert art(markings=[turned]) == []
    assert len(art(markings=[replace(turned, text="I")])) == 1
    assert len(art(markings=[replace(turned, knockout=True)])) == 1


def test_blanks_and_dots_are_no_letters_and_lines_are_told_apart() -> None:
    box = shapely.box(0.0, 0.0, 8.0, 1.0)
    assert len(letters(replace(text("A - B", (4.0, 0.5)), extents=box, height=1.0))) == 2
    assert letters(replace(text("", (4.0, 0.5)), extents=box, height=1.0)) == []


def test_a_text_on_a_pour_that_goes_on_under_its_letters() -> None:
    fill = build.pour(shapely.box(20, 8, 34, 18), net="C")
    words = replace(text("I", (25.0, 19.0)), extents=shapely.box(24.5, 17.0, 25.5, 20.5), height=3.5)
    assert art(markings=[words], areas=(fill,)) == []  # its edge lies under the letter: cleared, as far as a box tells
    under = build.pour(shapely.box(20, 8, 34, 19.5), net="C")
    low = replace(words, extents=shapely.box(24.5, 17.0, 25.5, 19.4))
    assert art(markings=[low], areas=(under,)) == []
    track = build.track((20.0, 17.5), (30.0, 17.5), 0.2, net="A")
    board = build.board(parts=NETS, markings=(low,), areas=(under,), tracks=(track,))
    assert only(ask(artwork_joins_nets, board)).message.endswith("over copper of A, C")
