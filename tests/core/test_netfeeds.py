# SPDX-License-Identifier: MIT
"""Supplies that only a part in their way tells, and what looks like one."""

from __future__ import annotations

import pytest

from build import board, chip, smd_part, through_part, with_pins
from lineworthy.knowledge.nets import NetKind, Nets, Source

LOAD = chip("C8", nets=("VCC", "GND"))
PLUG = through_part("J1", nets=("x", "GND"), package="TerminalBlock_1x02")
LONG_PLUG = through_part("J1", nets=("x", "GND", "a", "b"), package="PinHeader_1x04")
STORE = chip("C9", nets=("x", "GND"))


def diode(anode: str, cathode: str, value: str = "1N4004"):
    return with_pins(chip("D1", nets=(cathode, anode), value=value, package="D_SMA"), {"1": "K", "2": "A"})


def read(*parts):
    return Nets(board(parts=(*parts, LOAD))).of("x")


@pytest.mark.parametrize(
    "parts",
    [
        (PLUG, chip("F1", nets=("x", "VCC"))),
        (PLUG, diode("x", "VCC")),
        (LONG_PLUG, diode("x", "VCC")),
        (PLUG, chip("SW1", nets=("x", "VCC"))),
        (PLUG, chip("JP1", nets=("x", "VCC"), package="Jumper")),
        (STORE, chip("JP1", nets=("x", "VCC"), package="Jumper")),
        (STORE, chip("FB1", nets=("x", "VCC"))),
        (STORE, chip("L1", nets=("x", "VCC"), package="L_0603")),
    ],
)
def test_what_hands_current_on_makes_a_rail(parts) -> None:
    found = read(*parts)
    assert found.kind is NetKind.POWER
    assert "VCC" in found.evidence[0]
    plugged = any(part.reference == "J1" for part in parts)
    assert not plugged or found.source is Source.INPUT


def test_fuse_after_switch_after_jack() -> None:
    chain = (
        through_part("J1", nets=("a", "GND"), package="BarrelJack"),
        chip("SW1", nets=("a", "x")),
        chip("F1", nets=("x", "VCC")),
        LOAD,
    )
    found = Nets(board(parts=chain))
    assert found.of("x").kind is found.of("a").kind is NetKind.POWER


@pytest.mark.parametrize(
    "parts",
    [
        (PLUG, diode("VCC", "x")),  # clamps to the rail the other way round
        (PLUG, diode("x", "VCC"), chip("R1", nets=("x", "y"))),  # a signal goes on behind its clamp
        (PLUG, diode("x", "VCC", value="LED red")),
        (LONG_PLUG, chip("SW1", nets=("x", "VCC"))),  # a button's wire
        (chip("R2", nets=("x", "y")), chip("JP1", nets=("x", "VCC"), package="Jumper")),  # a strap
        (PLUG, chip("L1", nets=("x", "VCC"), package="L_0603")),  # a coil outside the board
        (through_part("J1", nets=("x", "GND"), package="SMA_Jack"), STORE, chip("FB1", nets=("x", "VCC"))),  # bias
        (PLUG, chip("F1", nets=("x", "y"))),
    ],
)
def test_what_looks_like_one(parts) -> None:
    assert read(*parts).kind is not NetKind.POWER


def test_a_regulators_input_and_what_a_circuit_makes_for_itself() -> None:
    def net(pins, nets=("x", "+5V", "GND"), more=(STORE,)):
        return read(with_pins(smd_part("U1", nets=nets), pins), *more).kind

    assert net({"1": ("IN", "input"), "2": ("OUT", "power_out")}) is NetKind.POWER
    assert net({"1": ("IN", "input"), "2": ("OUT", "output")}) is NetKind.POWER  # its net is called +5V
    assert net({"1": ("IN", "input"), "2": ("OUT", "output")}, ("x", "y", "GND")) is NetKind.SIGNAL  # an amplifier
    assert net({"1": ("1V8", "output")}) is NetKind.POWER
    assert net({"1": ("1V8", "output")}, more=(chip("R1", nets=("x", "y")),)) is NetKind.SIGNAL  # nothing stores


def test_pins_that_load_a_program_speak_for_themselves() -> None:
    def net(name, pins, *more):
        parts = (with_pins(smd_part("U1", nets=(name, "y")), pins), chip("R1", nets=(name, "z")), *more)
        return Nets(board(parts=parts)).of(name)

    assert net("shift", {"1": "CCLK"}).kind is NetKind.PROGRAMMING
    assert net("shift", {"1": "CCLK/P4"}).kind is NetKind.SIGNAL  # lent to the circuit
    assert net("shift", {"1": "TCK"}).kind is NetKind.SIGNAL  # as well, where the net is called otherwise
    assert net("Net-(U1-M0)", {"1": "M0", "2": "CCLK"}).kind is NetKind.PROGRAMMING
    assert net("Net-(U1-M0)", {"1": "M0"}).kind is NetKind.SIGNAL  # no logic array
    assert net("LED1", {"1": "DOUT", "2": "CCLK"}).kind is NetKind.SIGNAL
    after = with_pins(smd_part("U2", nets=("d", "y")), {"1": "DIN/D0", "2": "CCLK"})
    assert net("d", {"1": "DOUT/P1", "2": "CCLK"}, after).kind is NetKind.PROGRAMMING
    trace = net("PST0", {"1": "PST0/PD0"})
    assert trace.kind is NetKind.PROGRAMMING
    assert trace.watches
    assert net("PST0", {"1": "PD0"}).kind is NetKind.SIGNAL


def test_test_need_not_reach_what_only_watches() -> None:
    circuit = with_pins(smd_part("U1", nets=("TCK", "TRACECLK")), {"1": "TCK", "2": "TRACECLK"})
    nets = Nets(board(parts=(circuit, chip("R1", nets=("TCK", "a")), chip("R2", nets=("TRACECLK", "b")))))
    assert nets.of("TRACECLK").kind is NetKind.PROGRAMMING
    assert [key.facts.name for key in nets.keys] == ["TCK"]
