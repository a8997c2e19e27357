# SPDX-License-Identifier: MIT
"""What a net is for: by its name, by its pins and parts, and in which order they are believed."""

from __future__ import annotations

import dataclasses

import pytest

from build import board, chip, part, rectangle, smd_part, through_part, with_pins
from lineworthy.knowledge import netnames
from lineworthy.knowledge.netparts import Role, role
from lineworthy.knowledge.nets import NetFacts, NetKind, Nets, Source


def facts(name: str, *parts) -> NetFacts:
    """Facts of a net on a board; without parts it joins two resistors, which say nothing."""
    return Nets(board(parts=parts or (chip("R1", nets=(name, "x")), chip("R2", nets=(name, "x"))))).of(name)


def kind(name: str, *parts) -> str:
    return facts(name, *parts).kind.value


# --- names

GROUNDS = (
    "GND gnd /cpu/GND AGND DGND PGND GNDA GNDD GND1 VSS VSSA 0V Earth CHASSIS MASSE massa MASA terra GND-ISO GND_ISO "
    "B2_GND"
)
POWERS = (
    "+3V3 3V3 VCC_1V8 +12V VBAT VBUS VIN VDD VDDIO V5 -5V HV VCC VPP +3.3V 3,3V_OUT P0V85 N12V_IO VDD_USB +BATT AVDD"
)
MAINS = "AC_L AC_N AC-LINE Mains MAINS_L /psu/NEUTRAL 230VAC_IN 230V LIVE"
RESETS = "RESET ~{RESET} /cpu/nRST NRST RST_N MCLR SYSRST- PORN PS_POR_B ctrl_sel_rst PERST_N"
PROGRAMMINGS = "SWDIO SWCLK SWDCLK TCK /jtag/TDI TDO TMS TRST UPDI PGC PGD ICSPDAT BOOT0 boot_mode SWO JTAG_TCK"
BUSES = {
    "I2C": "SDA SCL I2C1_SDA I2C.SCL SCL_3V3 sensor/SDA2",
    "SPI": "MISO MOSI SCK SPI_CS SPI1_MOSI QSPI_SD2 COPI",
    "UART": "TXD RXD UART_TX UART0.RX USART1_TX CTS0",
    "CAN": "CANH CANL CAN_H CAN1_TX",
    "USB": "D+ D- USB_D+ USB_DP USB_D_N U1D+ CC1",
    "RS-485": "RS485_A RS485_B",
    "Ethernet": "MDIO MDC RMII_TXD0_E",
    "SDIO": "SDIO_CMD SDMMC1_D0 SD_CLK",
}
FASTS = "PCIE_TX0 HDMI_D0 DDR4-PS.DQ0 LVDS_CLK TMDS_0"
OTHERS = {
    "rf": "ANT RF_OUT NFC1",
    "clock": "CLK MCLK CLKOUT SYS_CLK 8MHZ",
    "analog": "AIN0 ADC_IN VREF I_SENSE VBUS_SENSE",
    "signal": "LED1 3V3_EN VBUS_DET PWR_GOOD 5VPG IRQ D0 A15 BURST FIRST OUT+ GND_DET RESET_LED WR_CLK.PPS "
    "MAINS_DET LIVE_LED L N",
}
BY_NAME = [
    *((name, "ground") for name in GROUNDS.split()),
    *((name, "power") for name in POWERS.split()),
    *((name, "mains") for name in MAINS.split()),
    *((name, "reset") for name in RESETS.split()),
    *((name, "programming") for name in PROGRAMMINGS.split()),
    *((name, "bus") for names in BUSES.values() for name in names.split()),
    *((name, "fast") for name in FASTS.split()),
    *((name, label) for label, names in OTHERS.items() for name in names.split()),
]


@pytest.mark.parametrize(("name", "label"), BY_NAME)
def test_a_name_says_what_the_net_is_for(name: str, label: str) -> None:
    assert kind(name) == label


@pytest.mark.parametrize(("name", "bus"), [(name, bus) for bus, names in BUSES.items() for name in names.split()])
def test_a_bus_is_named(name: str, bus: str) -> None:
    assert facts(name).bus == bus


@pytest.mark.parametrize(
    ("name", "volts"),
    [
        ("+3V3", 3.3),
        ("3V3", 3.3),
        ("VCC_1V8", 1.8),
        ("+12V", 12.0),
        ("-5V", -5.0),
        ("N12V_IO", -12.0),
        ("M12V", -12.0),
        ("VCC-5V", 5.0),  # a hyphen, not a sign
        ("P0V85", 0.85),
        ("+3.3V", 3.3),
        ("3,3V_OUT", 3.3),
        ("VDD3P3", 3.3),
        ("V5", 5.0),
        ("/12Vext", 12.0),
        ("+12BATT", 12.0),
        ("VBUS", None),
        ("VCC33", None),  # 3.3 or 33
        ("PWR_3,3-5V", None),  # two voltages
    ],
)
def test_voltage_is_read_from_the_name(name: str, volts) -> None:
    assert netnames.voltage(name) == volts


@pytest.mark.parametrize(
    "name", ["", "/", "Net-(", "~{", "~{~{~{~{X", "{slash}", "+" * 9999, "RST" * 5000, "\x00\u202e\U0001f4a9", "٣V٣"]
)
def test_hostile_names_are_survived(name: str) -> None:
    assert isinstance(netnames.leaf(name), str)
    netnames.reading(name)
    netnames.voltage(name)
    netnames.is_latch(name)


# --- pins and parts


def test_a_name_the_editor_made_says_nothing_its_pin_does() -> None:
    chip_u1 = with_pins(smd_part("U1", nets=("Net-(U1-VDD)", "g")), {"1": ("VDD", "power_in")})
    assert kind("Net-(U1-VDD)", chip_u1, chip("C1", nets=("Net-(U1-VDD)", "g"))) == "power"
    # without the pin's name there is nothing left
    assert kind("Net-(U1-VDD)", smd_part("U1", nets=("Net-(U1-VDD)", "g")), chip("C1", nets=("Net-(U1-VDD)", "g"))) == (
        "signal"
    )


@pytest.mark.parametrize(
    ("pin", "label"),
    [
        ("SWDIO", "programming"),
        ("~{RESET}", "reset"),
        ("SDA", "bus"),
        ("VSS", "ground"),
        ("RF_OUT", "signal"),
        ("RFOUT", "rf"),
        ("FB", "analog"),
        ("PA13/SWDIO", "programming"),
        ("PA1/TIM2/SDA/ADC1", "signal"),  # one of many uses of the pin
        ("PROG", "signal"),  # a charger's current is set there
    ],
)
def test_pins_of_unnamed_nets(pin: str, label: str) -> None:
    parts = (
        with_pins(smd_part("U1", nets=("Net-(R1-Pad1)", "g")), {"1": pin}),
        chip("R1", nets=("Net-(R1-Pad1)", "g")),
    )
    assert kind("Net-(R1-Pad1)", *parts) == label


def test_a_pin_is_believed_on_a_named_net_only_where_the_names_agree() -> None:
    def on(name: str) -> str:
        parts = (with_pins(smd_part("U1", nets=(name, "g")), {"1": "DSO/TDO"}), chip("R1", nets=(name, "g")))
        return kind(name, *parts)

    assert on("/DSO") == "programming"
    assert on("/HSYNC") == "signal"


def test_supply_pins_outvote_a_name_that_says_nothing() -> None:
    u1 = with_pins(smd_part("U1", nets=("HEART", "BLOOD")), {"1": ("VCC", "power_in"), "2": ("GND", "power_in")})
    parts = (u1, chip("C1", nets=("HEART", "BLOOD")))
    assert kind("HEART", *parts) == "power"
    assert kind("BLOOD", *parts) == "ground"


def test_a_signal_called_by_its_level_is_no_rail() -> None:
    def driven(name: str) -> str:
        u1 = with_pins(smd_part("U1", nets=(name, "g")), {"1": ("OUT", "output")})
        return kind(name, u1, chip("R1", nets=(name, "g")))

    assert driven("pilot_3,3V") == "signal"
    shifter = smd_part("U1", nets=("EVENT_1V8", "g"))
    assert kind("EVENT_1V8", shifter, chip("R1", nets=("EVENT_1V8", "g"))) == "signal"
    assert kind("EVENT_1V8", shifter, chip("C1", nets=("EVENT_1V8", "g"))) == "power"
    assert driven("VCC_3V3") == "power"


def test_a_crystal_makes_its_nets_but_not_its_case() -> None:
    parts = (
        smd_part("Y1", nets=("a", "GND", "b", "GND"), package="Crystal_SMD_3225-4Pin_3.2x2.5mm"),
        with_pins(smd_part("U1", nets=("a", "b", "GND")), {"3": ("GND", "power_in")}),
    )
    assert (kind("a", *parts), kind("b", *parts), kind("GND", *parts)) == ("crystal", "crystal", "ground")


def test_switching_node_by_pin_and_coil_and_the_rail_behind_it() -> None:
    buck = with_pins(smd_part("U1", nets=("VIN", "sw", "GND", "fb")), {"1": ("VIN", "power_in"), "2": "SW", "4": "FB"})
    coil = chip("L1", nets=("sw", "+5V"), package="L_4x4")
    parts = (buck, coil, chip("C1", nets=("+5V", "GND")), chip("C2", nets=("VIN", "GND")))
    assert kind("sw", *parts) == "switching"
    assert facts("+5V", *parts).source is Source.GENERATED
    assert NetKind.SWITCHING.stays_bare


def test_boost_converter_without_pin_names() -> None:
    parts = (
        smd_part("U1", nets=("x", "GND")),
        chip("D1", nets=("VPP", "x")),
        chip("L1", nets=("VCC", "x"), package="L_1210"),
    )
    assert kind("x", *parts) == "switching"


def test_a_rail_behind_a_bead_is_only_filtered() -> None:
    bead = chip("L1", nets=("VDD", "VDDA"), value="BLM18PG121SN1D", package="L_0603")
    many = [chip(f"C{n}", nets=("VDD", "GND")) for n in range(3)]
    found = Nets(board(parts=(bead, *many, chip("C9", nets=("VDDA", "GND")))))
    assert found.of("VDDA").source is Source.FILTERED
    assert found.of("VDD").source is Source.UNKNOWN


def test_input_rail_comes_from_a_connector() -> None:
    assert facts("VIN", through_part("J1", nets=("VIN", "GND")), chip("C1", nets=("VIN", "GND"))).source is Source.INPUT


def test_antenna_makes_a_net_radio() -> None:
    parts = (smd_part("AE1", nets=("x", ""), package="Antenna_Chip"), chip("C1", nets=("x", "y")))
    assert kind("x", *parts) == "rf"


def test_differential_pair_needs_both_halves_and_usb_is_a_bus() -> None:
    both = (chip("R1", nets=("CK_P", "CK_N")), chip("R2", nets=("CK_P", "CK_N")))
    assert kind("CK_P", *both) == "fast"
    assert kind("IRQ_N") == "signal"
    usb = (chip("R1", nets=("USB_D_P", "USB_D_N")), chip("R2", nets=("USB_D_P", "USB_D_N")))
    assert kind("USB_D_P", *usb) == "bus"


def test_chip_select_belongs_to_the_bus_of_its_siblings() -> None:
    parts = [chip(f"R{n}", nets=(name, "y")) for n, name in enumerate(["HK_SCK", "HK_CSB", "LED_CSB"] * 2)]
    found = Nets(board(parts=parts))
    assert (found.of("HK_CSB").bus, found.of("HK_CSB").kind) == ("SPI", NetKind.BUS)
    assert found.of("LED_CSB").kind is NetKind.SIGNAL


def test_ground_without_a_name_is_the_net_with_by_far_the_most_pins() -> None:
    parts = [chip(f"C{n}", nets=("N$1", f"N$9{n}")) for n in range(9)]
    assert kind("N$1", *parts) == "ground"
    assert "most pins" in facts("N$1", *parts).evidence[0]
    assert kind("N$1", *parts[:7]) == "signal"  # seven pins are too few to tell
    rival = [chip(f"R{n}", nets=("N$2", f"N$8{n}")) for n in range(8)]
    assert kind("N$1", *parts, *rival) == "signal"  # two candidates


def test_pads_with_one_number_are_one_pin() -> None:
    tab = part("P1", pads=[dataclasses.replace(pad, number="1") for pad in smd_part("P1", nets=("x",) * 12).pads])
    assert kind("x", tab) == "single-pin"


def test_analog_goes_on_through_passive_parts_but_not_into_logic() -> None:
    amplifier = with_pins(smd_part("U1", nets=("a", "b", "c")), {"1": "+", "2": "-", "3": ("OUT", "output")})
    logic = with_pins(smd_part("U2", nets=("d", "e")), {"1": ("A", "input")})
    parts = (
        amplifier,
        logic,
        chip("R1", nets=("a", "far")),
        chip("C1", nets=("far", "z")),
        chip("R2", nets=("c", "d")),
    )
    assert kind("far", *parts) == "analog"
    assert kind("d", *parts) == "signal"


def test_unconnected_and_single_pins() -> None:
    assert kind("unconnected-(U1-NC-Pad4)", smd_part("U1", nets=("unconnected-(U1-NC-Pad4)", "x"))) == "no-connect"
    assert kind("VCC", chip("R1", nets=("VCC", "x"))) == "single-pin"
    assert Nets(board()).of("nowhere").kind is NetKind.NO_CONNECT


# --- key nets


def keys(*parts) -> list[str]:
    return [key.facts.name for key in Nets(board(parts=parts)).keys]


U1 = with_pins(
    smd_part("U1", nets=("VDD", "GND", "SWDIO", "NRST", "SDA", "ANT", "LED")),
    {"1": ("VDD", "power_in"), "2": ("GND", "power_in")},
)
U2 = with_pins(smd_part("U2", nets=("VDD", "GND", "SDA", "LED", "ANT", "NRST", "SWDIO")), {"1": ("VDD", "power_in")})


def test_key_nets_come_by_kind_and_leave_out_what_must_stay_bare() -> None:
    assert keys(U2, U1) == ["GND", "VDD", "NRST", "SWDIO", "SDA"]


def test_a_board_without_a_circuit_has_no_key_nets() -> None:
    assert keys(chip("R1", nets=("VCC", "GND")), chip("LED1", nets=("VCC", "GND"))) == []


def test_supply_made_and_used_inside_one_circuit_is_no_key() -> None:
    inner = with_pins(
        smd_part("U3", nets=("VDD_CORE", "GND")), {"1": ("VDD_CORE", "power_out"), "2": ("GND", "power_in")}
    )
    assert "VDD_CORE" not in keys(U1, inner, chip("C1", nets=("VDD_CORE", "GND")))
    # a resistor takes it outside
    assert "VDD_CORE" in keys(U1, inner, chip("C1", nets=("VDD_CORE", "GND")), chip("R1", nets=("VDD_CORE", "LED")))


def test_quiet_ground_of_one_circuit_is_no_key_but_the_only_ground_is() -> None:
    quiet = with_pins(smd_part("U4", nets=("AGND", "x")), {"1": ("AGND", "power_in")})
    many = [chip(f"C{n}", nets=("GND", "VDD")) for n in range(4)]
    assert "AGND" not in keys(U1, quiet, chip("R9", nets=("AGND", "x")), *many)
    assert keys(smd_part("U5", nets=("x", "y")), chip("R1", nets=("GND", "x")), chip("R2", nets=("GND", "y"))) == [
        "GND"
    ]


def test_every_answer_but_a_plain_signal_has_evidence() -> None:
    found = Nets(board(parts=(U1, U2)))
    assert all(facts.evidence for facts in found.all.values() if facts.kind is not NetKind.SIGNAL)
    assert all(key.reason for key in found.keys)


def test_order_of_the_document_changes_nothing() -> None:
    parts = (U1, U2, chip("C1", nets=("VDD", "GND")), chip("R1", nets=("SDA", "VDD")))
    turned = [dataclasses.replace(item, pads=item.pads[::-1]) for item in reversed(parts)]
    assert Nets(board(parts=parts)).all == Nets(board(parts=turned)).all
    assert list(Nets(board(parts=parts)).all) == list(Nets(board(parts=turned)).all)


# --- parts


@pytest.mark.parametrize(
    ("item", "expected"),
    [
        (smd_part("U7", package="DIP-8_W7.62mm_Socket"), Role.IC),
        (smd_part("X1", nets=("a", "b"), value="8MHz", package="HC49"), Role.CRYSTAL),
        (with_pins(smd_part("X2", nets=("a",) * 4), {"4": ("VDD", "power_in")}), Role.OSCILLATOR),
        (smd_part("L3", package="L_0603", value="ferrite 600R"), Role.FERRITE),
        (smd_part("L3", package="L_0603", value="10uH"), Role.INDUCTOR),
        (through_part("MCU_PORT1", package="PinHeader_2x30_P2.54mm_Vertical"), Role.CONNECTOR),
        (smd_part("T1", nets=("a", "b", "c"), package="SOT-23"), Role.TRANSISTOR),
        (smd_part("T1", nets=("a",) * 6), Role.OTHER),
        (part("", pads=()), Role.OTHER),
        (part("\u2126\u202e7", pads=(), body=rectangle((0, 0), 1, 1)), Role.OTHER),
    ],
)
def test_what_a_part_does(item, expected: Role) -> None:
    assert role(item) is expected
