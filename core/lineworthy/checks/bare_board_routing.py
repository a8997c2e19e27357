# SPDX-License-Identifier: MIT
"""Routing: does copper join what one net holds together?"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from enum import Enum

import numpy as np
import shapely
from shapely import Polygon

from lineworthy.finding import Consequence, Finding, Place
from lineworthy.knowledge.artwork import Bridge, bridges
from lineworthy.knowledge.drawnpanel import DrawnPanel
from lineworthy.knowledge.gaps import Layer, called, kind_of
from lineworthy.knowledge.joined import Joins
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.netnames import UNCONNECTED
from lineworthy.knowledge.packages import Family, Packages
from lineworthy.knowledge.panelsigns import copies
from lineworthy.knowledge.routing import Land, OpenEnd, Routing, Torn
from lineworthy.knowledge.wording import counted, listed, mm, natural
from lineworthy.model import Board, Graphic, Marking, Part
from lineworthy.registry import Answers, check

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""

NAMED = 6
"""Nets that a message names."""

UNROUTED_MIN_RATIO = 0.5
"""Where more of the nets than this have no copper besides their pads, routing is not done rather than faulty."""


_SHELL = re.compile(r"(SHIELD|SHELL|SHLD|SH|MP|CASE|FRAME|MOUNT\w*)[\d_]*\Z", re.IGNORECASE)
"""What pins of a part's metal shell are called, or numbered."""


class Cut(Enum):
    """What it means that a net is in pieces, gravest first."""

    PARTS = "parts"
    LINKS = "wire links"
    COPIES = "copies"
    IDLE = "nothing fitted"
    BRIDGED = "through a part"


SAID = {
    Cut.PARTS: (Consequence.HOLD, "Copper does not join all parts of {nets}"),
    Cut.LINKS: (
        Consequence.QUERY,
        "Copper does not join all parts of {nets}; all copper is on one layer, and nothing says where wire links go",
    ),
    Cut.COPIES: (
        Consequence.QUERY,
        "Copper does not join all parts of {nets}, within one of the boards or between copies that share their names",
    ),
    Cut.IDLE: (
        Consequence.QUERY,
        "Copper does not join all pads of {nets}; what it leaves out are test pads, holes, marks or parts not fitted",
    ),
    Cut.BRIDGED: (
        Consequence.NOTE,
        "Copper does not join all pads of {nets}; a part may, by its shell or pads of one number",
    ),
}


@check("bare-board/net-in-pieces")
def net_in_pieces(
    board: Board, copper: Sequence[Layer], routing: Routing, packages: Packages, drawn_panel: DrawnPanel
) -> Answers:
    """Are there nets whose pads no copper joins?

    Why it matters: the factory builds what is drawn. Where a netlist goes along with the plots, the two disagree and
    the job is on hold; where the electrical test is made from the plots, every bare board passes and no assembled one
    works.
    What to do: finish the routing, fill the pours, and run the editor's rule check until nothing is unconnected. On a
    board with wire links give each link two pads and a line in the parts list.
    Blind spots: copper counts as joined where it touches, however narrow; a pour that holds no copper yet counts as
    filled (it is asked about by itself), and so does copper without a net that lies between pads. Pads of one number in
    one part, and those of its shell, may be joined inside of it: a note. Wire links are likely where all copper is on
    one layer, if no edge cuts what is drawn: a query, as it is where only test pads, holes, marks or parts that are not
    fitted are cut off. Pins marked as not connected are left out, and copper that carries no pad is not asked about.
    Where the outline is closed, tracks and drawings end at its edges and cut-outs, and a hole whose middle is milled
    away joins nothing; pours and surface lands count as whole there.
    Source: the document itself: its nets against its copper.
    """
    torn = [one for one in _within_boards(board, routing, drawn_panel) if not one.net.startswith(UNCONNECTED)]
    nets = [net for net, lands in board.pads_by_net.items() if len(lands) > 1 and not net.startswith(UNCONNECTED)]
    drawn = {track.net for track in board.tracks} | {area.net for area in board.areas} | {*board.vias_by_net}
    bare = [one for one in torn if one.net not in drawn]
    if len(bare) > UNROUTED_MIN_RATIO * len(nets):
        have = "has" if len(nets) == 1 else "have"
        others = len(torn) - len(bare)
        more = f", {others} more {'is' if others == 1 else 'are'} in pieces" if others else ""
        message = f"Not routed: {len(bare)} of {counted(len(nets), 'net')} {have} no copper besides pads{more}"
        yield _finding(packages, Consequence.HOLD, message, torn, _places(board, routing, torn))
        return
    is_linked, is_copied = len(_drawn_layers(board)) == 1 and not board.vias, copies(board) > 1
    # what is drawn as joined and cut by the edge waits for no wire link
    drawn_apart = {one.net for one in Routing(board, copper).torn()} if torn and is_linked else set()
    found: dict[Cut, list[Torn]] = {cut: [] for cut in Cut}
    for one in torn:
        cut = _cut(one, packages)
        if cut is Cut.PARTS and one.net in drawn_apart:
            cut = Cut.LINKS
        elif cut is Cut.PARTS and is_copied:
            cut = Cut.COPIES
        found[cut].append(one)
    for cut, some in found.items():
        if some:
            consequence, said = SAID[cut]
            yield _finding(packages, consequence, said.format(nets=_named(some)), some, _places(board, routing, some))


def _finding(
    packages: Packages, consequence: Consequence, message: str, torn: Sequence[Torn], places: Iterable[Place]
) -> Finding:
    cut_off = [land for one in torn for piece in one.pieces[1:] for land in piece]
    # a test pad that is added to a piece makes no other finding of it
    lasting = [land for land in cut_off if _is_needed(land[0], packages)]
    items = lasting or cut_off
    return net_in_pieces.finding(consequence, message, items=items, places=places, detail=consequence.value)


def _places(board: Board, routing: Routing, torn: Sequence[Torn]) -> list[Place]:
    """Where pieces come nearest to each other, each gap once."""
    ends = {
        frozenset((id(end.one), id(end.other))): (one.net, end)
        for one in torn[:SHOWN]
        for end in reversed(routing.open_ends(one))
    }
    shown = sorted(ends.values(), key=lambda pair: (natural(pair[0]), round(pair[1].width, 6), _label(*pair)))
    return [Place(end.at, board.side_of(end.layer), _label(net, end)) for net, end in shown[:SHOWN]]


def _label(net: str, end: OpenEnd) -> str:
    return f"{net}: {called(end.one)} to {called(end.other)}, {mm(end.width)} mm"


def _named(torn: Sequence[Torn]) -> str:
    """``2 nets: GND (3 pieces), SDA (2 pieces)``, those in most pieces first."""
    ordered = sorted(torn, key=lambda one: -len(one.pieces))
    most = NAMED if len(ordered) == NAMED else NAMED - 1
    told = ", ".join(f"{one.net} ({len(one.pieces)} pieces)" for one in ordered[:most])
    more = f" and {len(ordered) - most} more" if len(ordered) > most else ""
    return f"{counted(len(ordered), 'net')}: {told}{more}"


def _within_boards(board: Board, routing: Routing, panel: DrawnPanel) -> Iterator[Torn]:
    """Nets in pieces on one and the same board, where the document tells several apart."""
    outlines = [*shapely.get_parts(board.outline.area)]
    areas = outlines if len(outlines) > 1 else [piece.area for piece in panel.pieces] if copies(board) > 1 else []
    for one in routing.torn():
        for pads in _by_area(areas, board.pads_by_net[one.net]):
            pieces = routing.pieces(pads)
            if len(pieces) > 1:
                yield Torn(one.net, pieces)


def _by_area(areas: Sequence[Polygon], lands: Sequence[Land]) -> Iterable[Sequence[Land]]:
    """Pads sorted by the area they stand on; those that stand on none are by themselves."""
    if len(areas) < 2:
        return [lands]
    spots = np.asarray(shapely.points(np.array([pad.at for _, pad in lands])), dtype=object)
    on = dict(zip(*(index.tolist() for index in shapely.STRtree(areas).query(spots, predicate="intersects"))))
    groups: dict[int, list[Land]] = defaultdict(list)
    for n, land in enumerate(lands):
        groups[on.get(n, -1)].append(land)
    return groups.values()


def _cut(torn: Torn, packages: Packages) -> Cut:
    """What is cut off: parts, or only what nothing is fitted to, or what a part may join by itself."""
    joins = Joins()
    joins.add(len(torn.pieces))
    first: dict[tuple[str, str], int] = {}
    for n, piece in enumerate(torn.pieces):
        for part, pad in piece:
            number = "shell" if _SHELL.match(pad.pin_name or pad.number) else pad.number
            if part.fitted and number:
                joins.join(first.setdefault((part.uid, number), n), n)
    roots = [joins.root(n) for n in range(len(torn.pieces))]
    if len(set(roots)) == 1:
        return Cut.BRIDGED
    needed = {root for root, piece in zip(roots, torn.pieces) if any(_is_needed(part, packages) for part, _ in piece)}
    return Cut.PARTS if len(needed) > 1 else Cut.IDLE


def _is_needed(part: Part, packages: Packages) -> bool:
    """Whether a circuit works through a part: it is fitted, or a net tie or jumper; no hole, mark or test pad."""
    if packages.of(part).family is Family.MECHANICAL:
        return len({pad.net for pad in part.pads if pad.net}) > 1
    return part.fitted


def _drawn_layers(board: Board) -> set[str]:
    tracks = {track.layer for track in board.tracks}
    return tracks | {area.layer for area in board.areas}


@check("bare-board/artwork-joins-nets")
def artwork_joins_nets(board: Board, copper: Sequence[Layer]) -> Answers:
    """Does copper without a net, drawn, lettered or routed, lie over copper of two nets?

    Why it matters: on the finished board artwork in copper is copper, and so is a track, via, land or pour that has no
    net. What lies over a track is joined to it, and what lies over two nets is a short, which the netlist of the
    electrical test may not know of.
    What to do: move it, or put artwork on the legend. Copper that is meant to join two nets belongs into a part, a net
    tie, whose nets it then may join.
    Blind spots: letters are known by boxes of one width, so that one that passes between two tracks may be named: a
    query, where all other copper is a hold. What touches one net only is not named, nor are nets with a single pad; nor
    what a drawing of a part joins of that part's own nets, a land of the nets of its part's lands beside it, or a net
    tie, known by its name. Pours keep clear of artwork when they are filled: a text counts as on a pour only where the
    pour goes on under a whole letter.
    Source: the document itself.
    """
    found: dict[str, list[Bridge]] = {"drawings": [], "copper": [], "letters": []}
    for bridge in bridges(board, copper):
        kinds = {type(one) for one in bridge.artwork}
        found["letters" if Marking in kinds else "drawings" if kinds == {Graphic} else "copper"].append(bridge)
    for detail, some in found.items():
        if not some:
            continue
        artwork = list(dict.fromkeys(one for bridge in some for one in bridge.artwork))
        nets = listed(net for bridge in some for net in bridge.nets)
        layers = listed(layer for bridge in some for layer in bridge.layers)
        texts = listed(quoted(one.text) for one in artwork if isinstance(one, Marking))
        tally = Counter(kind_of(one) for one in artwork if not isinstance(one, Marking))
        pieces = listed(counted(count, kind) for kind, count in tally.items())
        messages = {
            "drawings": f"{pieces} in copper without a net on {layers} over copper of {nets}",
            "copper": f"Copper without a net on {layers} ({pieces}) joins copper of {nets}",
            "letters": f"{counted(len(artwork), 'text')} in copper on {layers}, {texts}, with letters over copper of"
            f" {nets}",
        }
        yield artwork_joins_nets.finding(
            Consequence.QUERY if detail == "letters" else Consequence.HOLD,
            messages[detail],
            items=artwork,
            places=[Place(one.at, board.side_of(one.layer), _bridge_label(one)) for one in some[:SHOWN]],
            detail=detail,
        )


def _bridge_label(bridge: Bridge) -> str:
    """The nets; what joins them, where it is neither drawing nor text and so has a name."""
    named = [called(one) for one in bridge.artwork if not isinstance(one, (Graphic, Marking))]
    return f"{listed(named)}: {' and '.join(bridge.nets)}" if named else " and ".join(bridge.nets)


CHECKS = (net_in_pieces, artwork_joins_nets)
