# SPDX-License-Identifier: MIT
"""The capability sheet: the limits of one factory, each with its value, unit and source.

A sheet is TOML. Each area is a table, each limit a key that ends in its unit::

    [sheet]
    name = "Board house in Brno, outer layers 35 um"
    based_on = "standard"          # relaxed, standard or dense: what is not said here comes from there

    [bare-board]
    edge_copper_outer_min_mm = { value = 0.3, source = "their data sheet 2026-03, page 4" }

To add a limit: a field in the area's class below, and its line in ``sheets/standard.toml``.
"""

from __future__ import annotations

import dataclasses
import difflib
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any, Union, get_type_hints

from lineworthy.errors import SheetError

if sys.version_info >= (3, 11):
    import tomllib
else:  # pragma: no cover - the standard library has it from 3.11 on
    import tomli as tomllib

TIERS = ("relaxed", "standard", "dense")
UNITS = ("mm", "um", "ratio", "percent", "count", "days", "deg", "n", "pf", "g", "v", "a")
"""Unit suffixes a key may end in; a key without one of them is an error."""

Number = Union[int, float]


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


@dataclass(frozen=True)
class SolderLimits:
    """Solder joints."""

    stencil_mm: float = limit("thickness of the stencil foil", low=0.03, high=0.5)
    paste_area_min_ratio: float = limit("aperture opening to aperture wall area", high=5)
    paste_aspect_min_ratio: float = limit("aperture width to foil thickness", high=20)


@dataclass(frozen=True)
class BareBoardLimits:
    """Making the bare board."""

    edge_copper_outer_min_mm: float = limit("outer copper to a routed edge", high=10)
    edge_copper_inner_min_mm: float = limit("inner copper to a routed edge", high=10)
    via_ring_min_mm: float = limit("copper ring round a via hole, as designed", high=5)
    pad_ring_min_mm: float = limit("copper ring round a plated part hole, as designed", high=5)


@dataclass(frozen=True)
class Origin:
    """Where a value comes from: the published source, and the sheet that gave it."""

    source: str
    sheet: str


@dataclass(frozen=True)
class Entry:
    """One limit as the sheet command and the reports show it."""

    key: str
    value: Number
    unit: str
    meaning: str
    source: str
    sheet: str


@dataclass(frozen=True)
class Sheet:
    """A complete set of limits; `origins` says for every key where its value comes from."""

    name: str
    identity: IdentityLimits
    fiducials: FiducialLimits
    test_access: TestAccessLimits
    panel: PanelLimits
    supply: SupplyLimits
    spacing: SpacingLimits
    solder: SolderLimits
    bare_board: BareBoardLimits
    origins: Mapping[str, Origin] = field(repr=False)

    def value(self, key: str) -> Number:
        """The value of ``area.limit_unit``; KeyError when there is no such key."""
        if key not in self.origins:
            raise KeyError(key)
        area, name = key.split(".", 1)
        value: Number = getattr(getattr(self, area.replace("-", "_")), name)
        return value

    def source(self, key: str) -> str:
        """The published source of a limit, or who gave it."""
        return self.origins[key].source

    def entries(self) -> Iterator[Entry]:
        """Every limit in the order of the areas."""
        for area, limits in _area_classes().items():
            for item in dataclasses.fields(limits):
                key = f"{area}.{item.name}"
                origin = self.origins[key]
                yield Entry(key, self.value(key), unit_of(key), item.metadata["meaning"], origin.source, origin.sheet)


def unit_of(key: str) -> str:
    """The unit suffix of a key, empty when it has none of `UNITS`."""
    suffix = key.rsplit("_", 1)[-1]
    return suffix if suffix in UNITS else ""


def built_in(tier: str = "standard") -> Sheet:
    """One of the generic sheets that come with the library.

    Raises:
        SheetError: `tier` is none of `TIERS`.
    """
    if tier not in TIERS:
        raise SheetError(tier, f"no such built-in sheet; there are {', '.join(TIERS)}")
    return _parse(_built_in_text(tier), f"{tier}.toml")


def load(source: str) -> Sheet:
    """A built-in sheet by name, or a user's sheet from a TOML file.

    Raises:
        SheetError: the file cannot be read, or a key or value in it is wrong (names file, key and value).
    """
    if source in TIERS:
        return built_in(source)
    try:
        text = Path(source).read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise SheetError(source, f"not UTF-8 text (byte {error.start})") from None
    except OSError as error:
        tiers = f"; built-in sheets are {', '.join(TIERS)}" if isinstance(error, FileNotFoundError) else ""
        raise SheetError(source, f"cannot be read: {error.strerror or error}{tiers}") from None
    return _parse(text, source)


def _built_in_text(tier: str) -> str:
    return (resources.files("lineworthy") / "sheets" / f"{tier}.toml").read_text(encoding="utf-8")


def _parse(text: str, file: str) -> Sheet:
    try:
        document: dict[str, Any] = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise SheetError(file, f"not TOML: {error}") from None
    head = document.pop("sheet", {})
    if not isinstance(head, dict):
        raise SheetError(file, "must be a table", "sheet")
    _known_keys(file, "sheet", head, ("name", "based_on"))
    name = head.get("name", Path(file).stem)
    if not isinstance(name, str):
        raise SheetError(file, f"must be text, not {name!r}", "sheet.name")
    values: dict[str, dict[str, Number]] = {area: {} for area in _area_classes()}
    origins: dict[str, Origin] = {}
    base = head.get("based_on", None if file == "standard.toml" else "standard")
    if base is not None:
        if base not in TIERS or file == f"{base}.toml":
            raise SheetError(file, f"{base!r} is none of {', '.join(TIERS)}", "sheet.based_on")
        parent = built_in(base)
        origins.update(parent.origins)
        for entry in parent.entries():
            area, key = entry.key.split(".", 1)
            values[area][key] = entry.value
    for area, table in document.items():
        _known_keys(file, "", {area: table}, tuple(values))
        if not isinstance(table, dict):
            raise SheetError(file, "must be a table", area)
        for key, given in table.items():
            values[area][key], source = _limit_value(file, area, key, given, name)
            origins[f"{area}.{key}"] = Origin(source, name)
    areas: dict[str, Any] = {}
    for area, limits in _area_classes().items():
        missing = [f.name for f in dataclasses.fields(limits) if f.name not in values[area]]
        if missing:
            raise SheetError(file, "limit is missing", f"{area}.{missing[0]}")
        areas[area.replace("-", "_")] = limits(**values[area])
    return Sheet(name=name, origins=origins, **areas)


def _limit_value(file: str, area: str, key: str, given: object, sheet: str) -> tuple[Number, str]:
    """Checks one ``key = value`` or ``key = { value, source }`` against the class of its area."""
    limits = {f.name: f for f in dataclasses.fields(_area_classes()[area])}
    place = f"{area}.{key}"
    if key not in limits:
        # the right limit with another unit, or with none
        same = [name for name in limits if name.rsplit("_", 1)[0] in (key, key.rsplit("_", 1)[0])]
        if same:
            raise SheetError(file, f"the unit must be {unit_of(same[0])}: write {same[0]}", place)
        _known_keys(file, area, {key: given}, tuple(limits))
    source = f"given in {sheet}"
    if isinstance(given, dict):
        _known_keys(file, place, given, ("value", "source"))
        source = given.get("source", source)
        if not isinstance(source, str):
            raise SheetError(file, f"must be text, not {source!r}", f"{place}.source")
        if "value" not in given:
            raise SheetError(file, "value is missing", place)
        given = given["value"]
    wants_int = get_type_hints(_area_classes()[area])[key] is int
    if isinstance(given, bool) or not isinstance(given, (int, float)) or (wants_int and not float(given).is_integer()):
        raise SheetError(file, f"must be a {'whole ' if wants_int else ''}number, not {given!r}", place)
    low, high = limits[key].metadata["low"], limits[key].metadata["high"]
    if not low <= given <= high:  # also refuses nan
        raise SheetError(file, f"{given!r} is outside the possible {low:g} to {high:g}", place)
    return (int(given) if wants_int else float(given)), source


def _known_keys(file: str, place: str, table: Mapping[str, Any], valid: tuple[str, ...]) -> None:
    for key in table:
        if key not in valid:
            near = difflib.get_close_matches(key, valid, n=1, cutoff=0.0)
            where = f"{place}.{key}" if place else key
            raise SheetError(file, f"no such key (value {_short(table[key])}); nearest is {near[0]}", where)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else text[:37] + "..."


def _area_classes() -> dict[str, type[Any]]:
    hints = get_type_hints(Sheet)
    return {
        name.replace("_", "-"): kind
        for name, kind in hints.items()
        if isinstance(kind, type) and dataclasses.is_dataclass(kind)
    }
