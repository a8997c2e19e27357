# SPDX-License-Identifier: MIT
"""Amendments as items of the in-process bindings, versions 6 to 10, and the proof that they arrived as meant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Optional

import pcbnew

from lineworthy_kicad.hosts.common import near, nm, place, text_angle

if TYPE_CHECKING:
    from lineworthy.amend.amendment import Amendment, FiducialMark, MarkingText, ProbePad, ToolingHole

MAJOR = int(pcbnew.GetBuildVersion().lstrip("(v").split(".")[0])
FIELD_SIZE_MM, FIELD_STROKE_MM = 1.0, 0.15


class Refused(Exception):  # noqa: N818 - a refusal, turned into a HostError at the border of the host
    """The board cannot take an amendment; the message says why."""


def make(board: Any, amendment: Amendment) -> Any:
    """A new item for an amendment, not on the board yet.

    Raises:
        Refused: its net is not on the board.
    """
    return getattr(_Maker(board), type(amendment).__name__)(amendment)


def fault(board: Any, item: Any, amendment: Amendment) -> str:
    """What is wrong with an item as it lies on the board now; empty when it is as the amendment says."""
    if not near((item.GetPosition().x, item.GetPosition().y), place(amendment.at)):
        return "it is not where it should be"
    if type(amendment).__name__ == "MarkingText":
        return _text_fault(item, amendment)  # type: ignore[arg-type]
    if item.GetReference() != amendment.reference:  # type: ignore[union-attr]
        return f"it is called {item.GetReference()}"
    pads = list(item.Pads())
    if len(pads) != 1:
        return f"it has {len(pads)} pads"
    return _pad_fault(pads[0], amendment)


def find(board: Any, uid: str) -> Optional[Any]:
    """The item with an id; None when there is none (any more)."""
    look = getattr(board, "ResolveItem", None) or board.GetItem  # the second is gone in 10
    item = look(pcbnew.KIID(uid))
    # an unknown id gives None or a stand-in, depending on the version
    if item is None or item.m_Uuid.AsString() != uid:
        return None
    return item.Cast()


class _Maker:
    """Makes the items of one board; one method for each kind of amendment, called like it."""

    def __init__(self, board: Any) -> None:
        self.board = board

    def FiducialMark(self, mark: FiducialMark) -> Any:  # noqa: N802
        part, pad = self._part_with_pad(mark, mark.side.value == "bottom", mark.diameter)
        pad.SetProperty(pcbnew.PAD_PROP_FIDUCIAL_LOCAL if mark.local else pcbnew.PAD_PROP_FIDUCIAL_GLBL)
        pad.SetLocalSolderMaskMargin(nm(mark.ring))
        pad.SetLocalClearance(nm(mark.ring))
        return self._placed(part, mark)

    def ProbePad(self, probe: ProbePad) -> Any:  # noqa: N802
        from lineworthy.amend.probes import MASK_MARGIN_MM  # noqa: PLC0415 - needs shapely

        net = self.board.FindNet(probe.net) if probe.net else None
        if net is None:
            raise Refused(f"net {probe.net} is not on the board")
        part, pad = self._part_with_pad(probe, probe.side.value == "bottom", probe.diameter)
        pad.SetNumber("1")
        pad.SetProperty(pcbnew.PAD_PROP_TESTPOINT)
        connect = pad.SetZoneConnection if MAJOR == 6 else pad.SetLocalZoneConnection
        connect(pcbnew.ZONE_CONNECTION_FULL)
        pad.SetLocalSolderMaskMargin(nm(MASK_MARGIN_MM))
        pad.SetNet(net)
        return self._placed(part, probe)

    def ToolingHole(self, hole: ToolingHole) -> Any:  # noqa: N802
        part, pad = self._part_with_pad(hole, False, hole.diameter)
        pad.SetAttribute(pcbnew.PAD_ATTRIB_NPTH)
        pad.SetDrillSize(_size(hole.diameter))
        pad.SetLayerSet(pad.UnplatedHoleMask())
        return self._placed(part, hole)

    def MarkingText(self, text: MarkingText) -> Any:  # noqa: N802
        bottom = text.side.value == "bottom"
        item = pcbnew.PCB_TEXT(self.board)
        item.SetText(text.source)
        item.SetLayer(pcbnew.B_SilkS if bottom else pcbnew.F_SilkS)
        item.SetTextSize(_size(text.height))
        item.SetTextThickness(nm(text.stroke))
        angle = text_angle(text.rotation, bottom)
        item.SetTextAngle(angle * 10 if MAJOR == 6 else pcbnew.EDA_ANGLE(angle, pcbnew.DEGREES_T))
        item.SetMirrored(bottom)
        across, up = ("HJUSTIFY", "VJUSTIFY") if MAJOR == 6 else ("H_ALIGN", "V_ALIGN")
        item.SetHorizJustify(getattr(pcbnew, f"GR_TEXT_{across}_CENTER"))
        item.SetVertJustify(getattr(pcbnew, f"GR_TEXT_{up}_CENTER"))
        item.SetPosition(_point(place(text.at)))
        return item

    def _part_with_pad(self, amendment: Any, bottom: bool, diameter: float) -> tuple[Any, Any]:
        """A part without a place in any list, and its round pad: bare copper on one side, no paste."""
        part = pcbnew.FOOTPRINT(self.board)
        # No library nickname: the editor's rule check complains about one that its table of libraries does not have.
        part.SetFPID(pcbnew.LIB_ID("", amendment.package))
        part.SetReference(amendment.reference)
        part.SetValue(amendment.package)
        part.SetLayer(pcbnew.B_Cu if bottom else pcbnew.F_Cu)
        layers = ((part.Reference(), "SilkS"), (part.Value(), "Fab"))
        for field, layer in layers:
            field.SetVisible(False)
            field.SetLayer(getattr(pcbnew, f"{'B' if bottom else 'F'}_{layer}"))
            field.SetMirrored(bottom)
            field.SetTextSize(_size(FIELD_SIZE_MM))
            field.SetTextThickness(nm(FIELD_STROKE_MM))
        lists = pcbnew.FP_EXCLUDE_FROM_BOM | pcbnew.FP_EXCLUDE_FROM_POS_FILES | pcbnew.FP_BOARD_ONLY
        hole = type(amendment).__name__ == "ToolingHole"
        part.SetAttributes(lists if hole else lists | pcbnew.FP_SMD)
        pad = pcbnew.PAD(part)
        pad.SetShape(pcbnew.PAD_SHAPE_CIRCLE)
        pad.SetAttribute(pcbnew.PAD_ATTRIB_SMD)
        pad.SetDrillSize(_size(0))
        pad.SetSize(_size(diameter))
        layers_of_pad = pcbnew.LSET()
        for layer in (pcbnew.B_Cu, pcbnew.B_Mask) if bottom else (pcbnew.F_Cu, pcbnew.F_Mask):
            layers_of_pad.AddLayer(layer)
        pad.SetLayerSet(layers_of_pad)
        part.Add(pad)
        return part, pad

    @staticmethod
    def _placed(part: Any, amendment: Any) -> Any:
        """Moves the part, which takes its pad and fields along: so this comes last."""
        part.SetPosition(_point(place(amendment.at)))
        return part


def _point(at: tuple[int, int]) -> Any:
    return (pcbnew.wxPoint if MAJOR == 6 else pcbnew.VECTOR2I)(*at)


def _size(mm: float) -> Any:
    return (pcbnew.wxSize if MAJOR == 6 else pcbnew.VECTOR2I)(nm(mm), nm(mm))


def _text_fault(item: Any, text: MarkingText) -> str:
    shown = item.GetShownText() if MAJOR == 6 else item.GetShownText(True)
    if shown != text.text:
        return f"it would print as {shown}"
    bottom = text.side.value == "bottom"
    if item.GetLayer() != (pcbnew.B_SilkS if bottom else pcbnew.F_SilkS) or item.IsMirrored() != bottom:
        return "it is on the wrong side"
    size = item.GetTextSize()
    sizes = (size.x, item.GetTextThickness())
    return "" if near(sizes, (nm(text.height), nm(text.stroke))) else "it has the wrong size"


def _pad_fault(pad: Any, amendment: Any) -> str:
    if not near((pad.GetPosition().x, pad.GetPosition().y), place(amendment.at)):
        return "its pad is not where it should be"
    if not near((pad.GetSize().x, pad.GetSize().y), (nm(amendment.diameter),) * 2):
        return "its pad has the wrong size"
    if pad.GetNetname() != getattr(amendment, "net", ""):
        return f"its pad is on net {pad.GetNetname() or 'none'}"
    if pad.IsOnLayer(pcbnew.F_Paste) or pad.IsOnLayer(pcbnew.B_Paste):
        return "its pad takes paste"
    if type(amendment).__name__ == "ToolingHole":
        drill = (pad.GetDrillSize().x, pad.GetDrillSize().y)
        return "" if near(drill, (nm(amendment.diameter),) * 2) else "its hole has the wrong size"
    side = "B" if amendment.side.value == "bottom" else "F"
    open_copper = all(pad.IsOnLayer(getattr(pcbnew, f"{side}_{layer}")) for layer in ("Cu", "Mask"))
    return "" if open_copper else "its pad is on the wrong side"
