# SPDX-License-Identifier: MIT
"""What a capability sheet holds: the limits of each area, what each means, and the range a sane value lies in.

The unit is the end of a limit's name; `sheet.UNITS` lists them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

Sizes = tuple[tuple[float, float], ...]
"""A limit that is a list of sizes, each two sides in mm."""


def limit(meaning: str, low: float = 0.0, high: float = 1000.0) -> Any:
    """Declares a limit: what it means, and the range a sane value lies in."""
    return field(metadata={"meaning": meaning, "low": low, "high": high})


@dataclass(frozen=True)
class IdentityLimits:
    """What is printed on the board to tell which one it is."""

    unmarked_board_max_mm: float = limit("a board no longer than this may have no room for its number", high=1000)
    text_height_mm: float = limit("height of letters to be read with the naked eye", low=0.3, high=20)
    text_stroke_mm: float = limit("pen of such letters", low=0.05, high=5)
    text_height_min_mm: float = limit("letters lower than this do not come out", low=0.1, high=20)
    text_stroke_min_mm: float = limit("pen of letters thinner than this does not come out", low=0.01, high=5)
    text_to_opening_min_mm: float = limit("legend to a mask opening, where it would be clipped", high=5)
    text_to_edge_min_mm: float = limit("legend to the board edge", high=5)
    label_length_mm: float = limit("free rectangle for a serial number label or the fabricator's marks", high=200)
    label_width_mm: float = limit("the same, its shorter side", high=200)


@dataclass(frozen=True)
class FiducialLimits:
    """Alignment marks."""

    per_side_min_count: int = limit("marks on each side that carries machine-placed parts", high=20)
    per_side_preferred_count: int = limit("marks wanted, so that stretch and twist can be corrected", high=20)
    simple_side_parts_max_count: int = limit("up to this many coarse parts a side is called simple", high=1000)
    simple_side_pitch_min_mm: float = limit("a part with a finer pitch than this makes a side not simple", high=5)
    mark_min_mm: float = limit("diameter of the copper mark", low=0.1, high=10)
    mark_max_mm: float = limit("diameter of the copper mark", low=0.1, high=10)
    clear_ring_min_ratio: float = limit("width of the clear ring, in mark radii", high=10)
    clear_ring_preferred_ratio: float = limit("width of the clear ring, in mark radii", high=10)
    transport_edge_mm: float = limit("board edge that transport and clamps may cover; clear rings stay inside", high=50)
    same_size_max_mm: float = limit("how much the diameters of a board's marks may differ", high=5)
    spread_min_ratio: float = limit("farthest two marks of a side, as a share of the board's diagonal", high=1)
    triangle_min_ratio: float = limit("how far three marks stray from one line, as a share of the diagonal", high=1)
    turned_apart_min_mm: float = limit("how different marks look on a board put in wrongly", high=100)
    lookalike_field_mm: float = limit("round a mark's centre, where a camera searches for it", high=50)
    local_mark_min_mm: float = limit("diameter of a mark that serves one part", low=0.1, high=10)
    local_leaded_pitch_mm: float = limit("leaded and no-lead packages finer than this want marks of their own", high=5)
    local_array_pitch_mm: float = limit("ball and land arrays finer than this want marks of their own", high=5)
    local_waived_pitch_mm: float = limit("packages this coarse do without where their side is well marked", high=5)
    local_reach_mm: float = limit("from a part's lands to the marks that serve it", high=50)


@dataclass(frozen=True)
class TestAccessLimits:
    """Reaching the board with probes."""

    target_min_mm: float = limit("smallest bare copper a probe is aimed at", low=0.1, high=5)
    target_preferred_mm: float = limit("bare copper a standard probe wants", low=0.1, high=5)
    target_to_part_min_mm: float = limit("edge of a probe target to the next part on its side", high=20)
    target_to_edge_min_mm: float = limit("edge of a probe target to the board edge", high=20)
    target_to_edge_vacuum_mm: float = limit("the same in a vacuum fixture, whose seal lies on the rim", high=20)
    mid_part_mm: float = limit("height from which a part on the probes' side needs more room", high=50)
    target_to_mid_part_mm: float = limit("edge of a probe target to such a part", high=20)
    tall_part_mm: float = limit("height from which a fixture's plate has to be milled out for a part", high=50)
    target_to_tall_part_mm: float = limit("edge of a probe target to such a part", high=20)
    target_to_tooling_mm: float = limit("edge of a probe target to a guide hole", high=20)
    target_pitch_min_mm: float = limit("between the centres of two targets, for the finest probes", high=10)
    target_pitch_preferred_mm: float = limit("the same for probes that last", high=10)
    signals_per_ground_max_count: int = limit("probed signals that one ground probe serves", low=1, high=1000)
    ground_target_near_mm: float = limit("from a signal's probe to the nearest ground target", high=1000)
    port_span_max_mm: float = limit("between the farthest test pads of one programming port", high=1000)
    probe_force_n: float = limit("spring force of one probe", low=0.1, high=10)
    probe_force_per_inch2_max_n: float = limit("force of all probes in any square inch of the board", low=1, high=1000)
    tooling_hole_mm: float = limit("diameter of a fixture's guide holes", low=0.5, high=10)
    tooling_to_edge_min_mm: float = limit("wall of a guide hole to the board edge", high=50)
    tooling_to_part_min_mm: float = limit("wall of a guide hole to the next part on either side", high=50)


@dataclass(frozen=True)
class PanelLimits:
    """Building many-up and breaking out."""

    single_min_mm: float = limit("a board with a shorter side is not run singly", high=1000)
    panel_wanted_below_mm: float = limit("boards smaller than this both ways are run many-up", high=1000)
    break_edge_part_min_mm: float = limit("part body to the edge where boards are separated", high=50)
    break_edge_ceramic_min_mm: float = limit("ceramic capacitor to the edge where boards are separated", high=50)
    break_edge_large_ceramic_min_mm: float = limit("the same from 1206 on, lying across the edge", high=50)

    working_panels_mm: tuple[tuple[float, float], ...] = limit(
        "sizes of the fabricator's working panels", low=50, high=2000
    )
    working_border_mm: float = limit("lost at each edge of a working panel, up to two copper layers", high=100)
    working_border_multilayer_mm: float = limit("the same with more layers", high=100)
    working_gap_mm: float = limit("between arrays on the working panel", high=50)
    utilisation_min_percent: float = limit("share of the working panel that boards should fill", high=100)
    line_length_max_mm: float = limit("longest array the line takes", low=50, high=2000)
    line_width_max_mm: float = limit("widest array the line takes", low=50, high=2000)
    array_preferred_min_mm: float = limit("an array that runs well is at least this long and wide", high=1000)
    array_preferred_length_mm: float = limit("an array that runs well is no longer", low=50, high=2000)
    array_preferred_width_mm: float = limit("an array that runs well is no wider", low=50, high=2000)
    length_max_ratio: float = limit("length of an array to its width", low=1, high=20)
    array_boards_max_count: int = limit("boards in one array", low=1, high=10_000)
    rail_mm: float = limit("width of a rail with marks and tooling holes", low=3, high=50)
    conveyor_edge_min_mm: float = limit("clear of parts along an edge that a conveyor holds", high=50)
    corner_radius_mm: float = limit("radius of an array's corners", high=20)
    routed_gap_mm: float = limit("width of the routed slot between boards", low=0.5, high=10)
    frame_bar_mm: float = limit("frame left between boards that have a slot all round", low=1, high=50)
    tab_max_mm: float = limit("width of a tab with break-away holes", low=0.5, high=20)
    tab_hole_mm: float = limit("diameter of break-away holes", low=0.2, high=2)
    tab_hole_pitch_mm: float = limit("between the centres of break-away holes", low=0.3, high=5)
    tab_bridge_min_mm: float = limit("board left between two break-away holes", high=5)
    tab_apart_max_mm: float = limit("between two tabs of one side", low=5, high=500)
    tab_corner_max_mm: float = limit("from a board's corner to the nearest tab", low=2, high=200)
    tab_track_min_mm: float = limit("break-away holes to the nearest track", high=20)
    rail_hole_mm: float = limit("diameter of the tooling holes in the rails", low=0.5, high=10)
    rail_hole_edge_mm: float = limit("centre of a tooling hole to both outer edges of its corner", low=1, high=50)
    score_thickness_min_mm: float = limit("thinnest board that is scored", high=10)
    score_array_min_mm: float = limit("smallest array that runs through a scoring machine", high=1000)
    score_copper_min_mm: float = limit("copper or a hole to the middle of a score", high=10)
    tall_part_mm: float = limit("height from which a part is in the way of a scoring or parting blade", high=100)
    score_tall_part_min_mm: float = limit("such a part to the middle of a score", high=50)
    conveyor_grip_mm: float = limit("edge that a line's conveyors take hold of, at the least", high=50)
    sag_max_mm: float = limit("how far a board hangs through when it is printed and placed", low=0.01, high=10)
    sag_hot_max_percent: float = limit(
        "the same in the oven, as a share of the way between the rails", low=0.01, high=10
    )


@dataclass(frozen=True)
class SupplyLimits:
    """Buying the parts: what is lost in placing, and the days between ordering and assembly."""

    volume_run_min_count: int = limit("boards from which the shares for volume hold", low=1, high=1_000_000)
    small_chip_spare_percent: float = limit("spare for chips up to 0402, small run", high=100)
    small_chip_volume_percent: float = limit("spare for chips up to 0402, in volume", high=100)
    small_chip_spare_min_count: int = limit("least spare of chips up to 0402", high=10_000)
    chip_spare_percent: float = limit("spare for chips 0603 to 1206, small run", high=100)
    chip_volume_percent: float = limit("spare for chips 0603 to 1206, in volume", high=100)
    chip_spare_min_count: int = limit("least spare of chips 0603 to 1206", high=10_000)
    molded_spare_percent: float = limit("spare for 1210 and larger, SOT-23, MELF, SMA and SMB, small run", high=100)
    molded_volume_percent: float = limit("spare for 1210 and larger, SOT-23, MELF, SMA and SMB, in volume", high=100)
    molded_spare_min_count: int = limit("least spare of 1210 and larger, SOT-23, MELF, SMA and SMB", high=10_000)
    large_spare_percent: float = limit("spare for SMC, SOT-223, DPAK, crystals, big inductors", high=100)
    large_spare_min_count: int = limit("least spare of SMC, SOT-223, DPAK, crystals, big inductors", high=10_000)
    electrolytic_spare_percent: float = limit("spare for tantalum and electrolytic capacitors", high=100)
    electrolytic_spare_min_count: int = limit("least spare of tantalum and electrolytic capacitors", high=10_000)
    other_spare_percent: float = limit("spare for circuits, connectors and costly parts, small run", high=100)
    other_volume_percent: float = limit("spare for circuits, connectors and costly parts, in volume", high=100)
    other_spare_min_count: int = limit("least spare of circuits, connectors and costly parts", high=10_000)
    data_max_days: int = limit("older data on stock, price and life cycle count as unknown", high=10_000)
    long_lead_days: int = limit("a lead time longer than this is long", high=10_000)
    delivery_days: int = limit("from ordering what a source has in stock to its arrival", high=1000)
    incoming_days: int = limit("goods-in inspection before kitting", high=1000)
    kitting_days: int = limit("putting the kit together before assembly", high=1000)
    buffer_days: int = limit("reserve for what goes wrong", high=1000)
    assembly_days: int = limit("assembly, where the build date is the day of shipment and not of the start", high=1000)
    test_days: int = limit("test, where the build date is the day of shipment and not of the start", high=1000)
    transport_days: int = limit("transport, where the build date is the day of arrival and not of the start", high=1000)


@dataclass(frozen=True)
class SpacingLimits:
    """Room between parts, to place, inspect and rework them."""

    small_chip_min_mm: float = limit("chip up to 0402 to chip", high=20)
    chip_min_mm: float = limit("chip from 0603 to chip", high=20)
    chip_to_package_min_mm: float = limit("chip to a leaded or leadless package", high=20)
    package_min_mm: float = limit("package to package", high=20)
    array_min_mm: float = limit("ball or land array to any body", high=20)
    connector_min_mm: float = limit("part to connector", high=50)
    through_hole_min_mm: float = limit("surface part to a through-hole land", high=50)
    under_cover_min_mm: float = limit("top of a part to the top of the cover over it", high=20)
    ceramic_to_screw_min_mm: float = limit("rim of a screw head or washer to a ceramic capacitor", high=50)
    lead_nozzle_min_mm: float = limit(
        "land of a lead to surface parts on the side it is soldered from, for a nozzle that solders it", high=50
    )
    lead_nozzle_side_min_mm: float = limit("the same on one of the four sides", high=50)
    camera_tilt_deg: float = limit("angle of the inspection camera that looks at joints, from upright", low=5, high=80)
    joint_height_mm: float = limit("height of a joint that a camera must see", high=20)
    reflow_tall_min_mm: float = limit("a reflowed part taller than this shades its neighbours from the heat", high=100)
    reflow_shadow_min_mm: float = limit("very tall reflowed part to a chip", high=50)
    nozzle_wall_min_mm: float = limit(
        "round a package without leads to parts that stand above it, for a hot-air nozzle", high=50
    )
    iron_over_mm: float = limit("height of parts that an iron passes over", high=50)
    iron_min_mm: float = limit("width of the way in for a soldering iron", high=50)
    tweezers_min_mm: float = limit("beyond both ends of a chip that will be replaced, for hot tweezers", high=20)
    array_nozzle_min_mm: float = limit("round an array, for the nozzle and the small stencil that replace it", high=50)
    array_far_side_max_mm: float = limit(
        "height of parts on the far side of an array, where it is supported when it is replaced", high=50
    )
    cutout_part_min_mm: float = limit("lands and bodies to a cut-out or slot inside the board", high=50)
    plug_room_mm: float = limit("before a connector, for a plug that comes along the board", high=100)
    plug_setback_max_mm: float = limit("face of a connector behind the board edge, for plugs with a wide grip", high=50)


@dataclass(frozen=True)
class SolderLimits:
    """Solder joints."""

    stencil_mm: float = limit("thickness of the stencil foil", low=0.03, high=0.5)
    paste_area_min_ratio: float = limit("aperture opening to aperture wall area", high=5)
    paste_aspect_min_ratio: float = limit("aperture width to foil thickness", high=20)
    overprint_max_mm: float = limit("how far a stencil opening may reach beyond its land", high=1)
    stencil_web_min_mm: float = limit("foil left between two openings of the stencil", high=1)
    via_in_land_max_percent: float = limit("share of the solder on a land that fits into the open holes in it")
    heat_via_max_mm: float = limit("diameter of an open hole in a heat land, covered on the far side", low=0.05, high=5)
    via_dam_min_mm: float = limit("mask between a land and an open via beside it", high=1)
    relief_web_max_mm: float = limit("all webs of a lead on all layers together, at 35 um of copper", high=100)
    chip_exit_max_ratio: float = limit("copper leaving one end of a chip up to 0805 to the other", low=1, high=100)
    chip_land_max_ratio: float = limit("one land of a chip up to 0805, or its print, to the other", low=1, high=10)
    heat_land_paste_min_percent: float = limit("share of a heat land under a package that is printed", high=100)
    heat_land_paste_max_percent: float = limit("share of a heat land under a package that is printed", high=100)
    second_side_per_inch2_max_g: float = limit("mass a square inch of lands holds, hanging down", low=0.1, high=1000)
    lead_hole_tolerance_mm: float = limit("how much smaller than drawn a finished plated hole may be", high=1)
    lead_hole_room_mm: float = limit("plated hole to the thickest lead in it, to let solder rise", high=2)
    lead_hole_slack_mm: float = limit("plated hole to the thinnest lead in it; more is too wide", low=0.2, high=5)
    wave_travel_deg: float = limit("way over the wave from the x axis; -1: no surface parts in it", low=-1, high=360)
    wave_pitch_min_mm: float = limit("pitch of leaded packages on the wave side", high=50)
    wave_height_max_mm: float = limit("height of surface parts on the wave side", low=0.1, high=50)
    wave_length_min_mm: float = limit("length of surface parts on the wave side", high=50)


@dataclass(frozen=True)
class BareBoardLimits:
    """Making the bare board."""

    edge_copper_outer_min_mm: float = limit("outer copper to a routed edge", high=10)
    edge_copper_inner_min_mm: float = limit("inner copper to a routed edge", high=10)
    via_ring_min_mm: float = limit("copper ring round a via hole, as designed", high=5)
    pad_ring_min_mm: float = limit("copper ring round a plated part hole, as designed", high=5)
    track_outer_min_mm: float = limit("width of a track on the outer layers", low=0.02, high=5)
    track_inner_min_mm: float = limit("width of a track on the inner layers", low=0.02, high=5)
    gap_outer_min_mm: float = limit("copper to copper of another net on the outer layers", low=0.02, high=5)
    gap_inner_min_mm: float = limit("copper to copper of another net on the inner layers", low=0.02, high=5)
    drill_min_mm: float = limit("diameter of the smallest drilled hole", low=0.05, high=5)
    drill_max_mm: float = limit("diameter of the largest drilled hole; larger ones are milled", low=1, high=20)
    slot_min_mm: float = limit("width of the narrowest plated slot", low=0.1, high=10)
    aspect_max_ratio: float = limit("board thickness to the diameter of a plated hole", low=1, high=50)
    laser_aspect_max_ratio: float = limit("depth to diameter of a lasered hole through one dielectric", low=0.2, high=5)
    hole_to_hole_min_mm: float = limit("wall to wall of two holes", high=5)
    hole_to_copper_outer_min_mm: float = limit("wall of a hole to copper that is not its own, outer layers", high=5)
    hole_to_copper_inner_min_mm: float = limit("wall of a hole to copper that is not its own, inner layers", high=5)
    bow_surface_max_percent: float = limit("bow and twist of a board with surface parts", high=10)
    bow_other_max_percent: float = limit("bow and twist of any other board", high=10)
    copper_balance_max_percent: float = limit("share of copper by which two mirrored layers may differ", high=100)
    cutter_mm: float = limit("diameter of the finest cutter that mills outlines, cut-outs and bare slots", high=10)
    web_min_mm: float = limit("board left between two cut-outs, or between one and the edge", high=20)
    thick_copper_mm: float = limit("copper from this thickness on is etched coarser", low=0.01, high=1)
    thick_copper_track_min_mm: float = limit("width of tracks and gaps in such copper", low=0.02, high=5)
    mask_dam_min_mm: float = limit("mask left between two openings", high=5)
    mask_to_copper_min_mm: float = limit("mask opening to copper of another net", high=5)
    legend_line_min_mm: float = limit("pen that the legend is drawn with", high=5)
    track_rise_max_k: float = limit("how much warmer than the board a track may get by its current", low=1, high=100)
    copper_um: float = limit("thickness of copper where the stack-up does not say", low=5, high=400)
    hole_plating_um: float = limit("thickness of copper in plated holes", low=5, high=100)


@dataclass(frozen=True)
class YieldLimits:
    """Defects that a line makes, for the estimate of its yield; a factory knows its own."""

    component_defects_count: int = limit("parts in a million that are faulty as delivered", high=1_000_000)
    placement_defects_count: int = limit("parts in a million that are placed wrongly", high=1_000_000)
    surface_joint_defects_count: int = limit("reflowed joints in a million that are faulty", high=1_000_000)
    lead_joint_defects_count: int = limit("joints of leads in a million that are faulty", high=1_000_000)


ANSWERS: Mapping[str, str] = {
    "panel_by": "Who designs the array: we, you, or we together from this proposal?",
    "separation": "How do you separate boards: by hand, blade, punch, saw, router, laser?",
    "score_angle": "Your scoring blade's angle: how many degrees, and is that the included angle or each side's?",
    "jump_scoring": "Can scores stop inside the array (jump scoring)?",
    "rails": "Which edges need rails, and which edge goes first?",
    "marks": "Panel marks: size, opening, places you want; marks on each board as well?",
    "bad_boards": "Are arrays with boards marked as bad accepted, how many in one, and how are they marked?",
    "finish": "Surface finish and thickness you offer for this board?",
    "probe_side": "From which side do you probe; in the array or as single boards?",
    "packing": "Are boards delivered in the array or separated?",
    "labels": "Where on the rail do your own labels or codes go, and how large are they?",
}
"""What a manufacturer is asked in words. A sheet holds the answers in its table ``answers``."""
