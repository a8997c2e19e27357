# SPDX-License-Identifier: MIT
"""Every part of the frost alarm, as it should be built (see `mistakes.py` for the other state)."""

from __future__ import annotations

from circuit import Pin, Placed, chip, ic, part

MCU = ic("""
1 VDD +3V3 P,   2 PC13 LED_STATUS B, 3 OSC_IN XTAL_IN I,  4 OSC_OUT XTAL_OUT Q, 5 PC0 RF_RST B,    6 VSSA GND P
7 VDDA +3V3A P, 8 PA0 RF_CS B,       9 PA1 RF_SCK B,      10 PA2 RF_MISO B,     11 PA3 RF_MOSI B,  12 PA4 RF_IRQ B
13 PA5 LEAF_TEMP B, 14 PA6 VIN_SENSE B, 15 PA7, 16 VDD +3V3 P, 17 VSS GND P, 18 PA11 USB_DM B
19 PA12 USB_DP B, 20 PB0, 21 PB1, 22 PB2, 23 VSS GND P, 24 VDD +3V3 P
25 PB10 UART_TX B, 26 PB11 UART_RX B, 27 PB12, 28 PB8 SCL B, 29 PB9 SDA B, 30 PB14
31 PC6 LED_ALARM B, 32 PC7 BUZZ_DRV B, 33 PC8 RELAY_DRV B, 34 PA13 SWDIO B, 35 VSS GND P, 36 VDD +3V3 P
37 PA14 SWCLK B, 38 PB3 SWO B, 39 PB4, 40 PB5, 41 NRST NRST I, 42 PB6
43 PB7, 44 BOOT0 BOOT0 I, 45 PC14, 46 PC15, 47 VSS GND P, 48 VBAT +3V3 P
49 VSS_EP GND P
""")

RADIO = ic("""
1 VDD_PA +3V3_RF P, 2 RF_OUT RF_OUT Q, 3 VSS_PA GND P, 4 VDD_RF +3V3_RF P, 5 VSS_RF GND P
6 XI RF_XI I, 7 XO RF_XO Q, 8 VSS GND P, 9 VDD +3V3_RF P, 10 TEST
11 MOSI RF_MOSI I, 12 MISO RF_MISO Q, 13 SCK RF_SCK I, 14 CSN RF_CS I, 15 IRQ RF_IRQ Q
16 RSTN RF_RST I, 17 DCPL RF_DCPL -, 18 VDD_IO +3V3_RF P, 19 VSS GND P, 20 GPIO0
21 EP GND P
""")

BUCK = ic("""
1 BOOT BUCK_BOOT -, 2 VIN +24V P, 3 EN BUCK_EN I, 4 SS BUCK_SS -
5 FB BUCK_FB I, 6 COMP BUCK_COMP -, 7 GND GND P, 8 SW SW_NODE Q, 9 EP GND P
""")

USB = {
    **{pad: Pin("GND", "GND") for pad in ("A1", "A12", "B1", "B12")},
    **{pad: Pin("VBUS", "VBUS") for pad in ("A4", "A9", "B4", "B9")},
    "A5": Pin("USB_CC1", "CC1"),
    "B5": Pin("USB_CC2", "CC2"),
    "A6": Pin("USB_DP", "D+"),
    "B6": Pin("USB_DP", "D+"),
    "A7": Pin("USB_DM", "D-"),
    "B7": Pin("USB_DM", "D-"),
    "A8": Pin("", "SBU1"),
    "B8": Pin("", "SBU2"),
    "S1": Pin("GND", "SHIELD"),
}

POWER = (
    part("J1", "24 V supply", "TERM2", 6, 13, 270, "+24V_IN GND", "HC-TB508-2"),
    part("F1", "0.75 A resettable", "F1812", 17.5, 13, 0, "+24V_IN +24V_F", "TC-PF075-1812"),
    part("D1", "33 V clamp", "SMB", 17.5, 18.5, 180, "+24V_F GND", "BS-TV33B"),
    part("D2", "60 V 2 A", "SMA", 25.5, 13, 180, "+24V +24V_F", "BS-SK26A"),
    part("C1", "220u 50 V", "CP10", 23.5, 24.5, 0, "+24V GND", "FP-EL220-50"),
    part("C2", "4u7 50 V", "C1206", 32, 14.5, 270, "+24V GND"),
    part("C3", "100n 50 V", "C0603", 32, 10.25, 0, "+24V GND"),
    chip("U1", "FA-BK36", "SOIC8EP", 38, 15, 0, BUCK, "FA-BK36-SO8"),
    part("C4", "100n 50 V", "C0603", 38, 10.25, 0, "BUCK_BOOT SW_NODE"),
    part("D3", "60 V 2 A", "SMA", 46, 17.75, 0, "SW_NODE GND", "BS-SK26A"),
    part("L1", "33u 1.8 A", "L7.3", 47.5, 11, 0, "SW_NODE +5V", "CM-7345-330"),
    part("C5", "22u 10 V", "C1206", 55, 10.5, 270, "+5V GND"),
    part("C6", "22u 10 V", "C1206", 58.5, 10.5, 270, "+5V GND"),
    part("R3", "100k", "R0603", 33.5, 21, 270, "+24V BUCK_EN"),
    part("C7", "10n", "C0603", 35.5, 21, 270, "BUCK_SS GND"),
    part("R4", "22k", "R0603", 37.5, 21, 270, "BUCK_COMP BUCK_RC"),
    part("C8", "2n2", "C0603", 39.5, 21, 90, "BUCK_RC GND"),
    part("R2", "10k", "R0603", 41.5, 21, 270, "BUCK_FB GND"),
    part("R1", "52k3", "R0603", 43.5, 21, 270, "BUCK_FB +5V"),
    part("U2", "FA-LD33", "SOT223", 56.5, 20, 270, "GND +3V3 +5V", "FA-LD33-S223"),
    part("C9", "1u 16 V", "C0603", 51.5, 17, 270, "+5V GND"),
    part("C10", "10u 6V3", "C0805", 61.75, 22.5, 270, "+3V3 GND"),
    part("R23", "100k", "R0603", 19.5, 24, 270, "+24V VIN_SENSE"),
    part("R24", "7k5", "R0603", 17.5, 24, 90, "VIN_SENSE GND"),
    part("C29", "100n", "C0402", 15.75, 24, 90, "VIN_SENSE GND"),
)

LOGIC = (
    chip("U3", "FA-MCU48", "QFN48", 46, 42, 0, MCU, "FA-MCU48-QN"),
    part("C11", "100n", "C0402", 40.25, 36.5, 180, "+3V3 GND"),
    part("C12", "100n", "C0402", 44.25, 47.75, 0, "+3V3 GND"),
    part("C13", "100n", "C0402", 49.5, 47.75, 0, "+3V3 GND"),
    part("C14", "100n", "C0402", 52, 37.5, 90, "+3V3 GND"),
    part("C15", "4u7 6V3", "C0603", 42, 48.75, 90, "+3V3 GND"),
    part("C16", "100n", "C0402", 47.5, 34.5, 270, "NRST GND"),
    part("C17", "1u", "C0402", 38.5, 44.5, 90, "+3V3A GND"),
    part("FB1", "600R 0.5 A", "L0603", 36, 46, 90, "+3V3 +3V3A"),
    chip(
        "Y1",
        "16 MHz 10 pF",
        "XTAL",
        36.5,
        41,
        0,
        ic("1 X1 XTAL_OUT -,2 CASE GND -,3 X2 XTAL_IN -,4 CASE GND -"),
        "LT-32-16M0",
    ),
    part("C18", "12p", "C0402", 37, 38.25, 180, "XTAL_IN GND"),
    part("C19", "12p", "C0402", 33.25, 41.75, 180, "XTAL_OUT GND"),
    part("R5", "10k", "R0402", 46, 34.5, 90, "NRST +3V3"),
    part("R6", "10k", "R0402", 44.5, 34.5, 270, "BOOT0 GND"),
    part("R25", "10k", "R0402", 53.75, 38.25, 90, "SWDIO +3V3"),
    part("R26", "10k", "R0402", 50.25, 34.5, 90, "SWCLK GND"),
    part("SW1", "RESET", "BUTTON", 50, 29, 0, "NRST GND", "TC-PB52"),
    part("SW2", "BOOT", "BUTTON", 39.5, 29, 0, "BOOT0 +3V3", "TC-PB52"),
    part("J2", "SWD", "SWD10", 62, 31, 0, "+3V3 SWDIO GND SWCLK GND SWO - - GND NRST", "HC-P127-10S"),
    chip("J4", "USB-C", "USBC", 46, 60.325, 0, USB, "HC-UC16-TM"),
    chip(
        "U5",
        "FA-ESD6",
        "SOT23-6",
        46,
        52.25,
        90,
        ic("1 IO1 USB_DM -,2 GND GND P,3 IO2 USB_DP -,4 IO2 USB_DP -,5 VBUS VBUS P,6 IO1 USB_DM -"),
        "FA-ESD6-S6",
    ),
    part("R7", "5k1", "R0402", 42.5, 53, 270, "USB_CC1 GND"),
    part("R8", "5k1", "R0402", 49.75, 53, 270, "USB_CC2 GND"),
    part("D4", "20 V 1 A", "SOD123", 35.5, 53, 0, "+5V VBUS", "BS-SK12"),
    part("C30", "1u 16 V", "C0603", 39.25, 52, 90, "VBUS GND"),
    chip("U6", "FA-TH4", "DFN4", 62.5, 51.5, 0, ic("1 SDA SDA B,2 SCL SCL I,3 VDD +3V3 P,4 VSS GND P"), "FA-TH4-D"),
    part("C26", "100n", "C0402", 64.75, 51.25, 90, "+3V3 GND"),
    chip(
        "U7",
        "FA-EE64",
        "SOIC8",
        57.5,
        45,
        0,
        ic("1 A0 GND I,2 A1 GND I,3 A2 GND I,4 VSS GND P,5 SDA SDA B,6 SCL SCL I,7 WP GND I,8 VCC +3V3 P"),
        "FA-EE64-SO8",
    ),
    part("C27", "100n", "C0402", 57.5, 40.75, 0, "+3V3 GND"),
    part("R11", "4k7", "R0402", 54.25, 50.25, 90, "SDA +3V3"),
    part("R12", "4k7", "R0402", 55.75, 50.25, 90, "SCL +3V3"),
    chip(
        "J5",
        "I2C sensor",
        "PH4",
        72,
        58.25,
        0,
        {**ic("1 VCC +3V3 -,2 SDA SDA -,3 SCL SCL -,4 GND GND -"), "MP": Pin("GND", "MP")},
        "HC-PH4-SR",
    ),
    part("C31", "10u 6V3", "C0805", 81.75, 55, 0, "+3V3 GND"),
    part("J7", "UART", "PIN3", 55.75, 58.5, 90, "GND UART_TX UART_RX", "HC-P254-3"),
    part("J8", "Leaf probe", "TERM2", 6, 29, 270, "LEAF_TEMP_IN GND", "HC-TB508-2"),
    part("R21", "10k 0.1 %", "R0402", 15, 29, 90, "LEAF_TEMP_IN +3V3A"),
    part("R22", "1k", "R0402", 17, 30, 0, "LEAF_TEMP_IN LEAF_TEMP"),
    part("C28", "100n", "C0402", 19, 31, 270, "LEAF_TEMP GND"),
)

RADIO_PARTS = (
    chip("U4", "FA-RF868", "QFN20", 20, 45.5, 0, RADIO, "FA-RF868-QN"),
    part("L4", "33n", "L0402", 16.5, 42.75, 90, "RF_OUT +3V3_RF"),
    part("L2", "8n2", "L0402", 15, 45, 180, "RF_OUT RF_MATCH"),
    part("L3", "5n6", "L0402", 12.25, 45, 180, "RF_MATCH RF_ANT"),
    part("C20", "3p3", "C0402", 13.625, 46.75, 270, "RF_MATCH GND"),
    part("C21", "2p7", "C0402", 10.75, 46.75, 270, "RF_ANT GND"),
    part("J3", "868 MHz", "COAX", 6, 45, 180, "RF_ANT GND", "HC-MCX-S"),
    part("FB2", "600R 0.5 A", "L0603", 26.5, 40.5, 180, "+3V3 +3V3_RF"),
    part("C22", "10u 6V3", "C0603", 23, 40.25, 90, "+3V3_RF GND"),
    part("C23", "100n", "C0402", 19.25, 41.5, 90, "+3V3_RF GND"),
    part("C24", "100p", "C0402", 16.25, 48, 270, "+3V3_RF GND"),
    part("C32", "100n", "C0402", 22.75, 49.25, 0, "+3V3_RF GND"),
    part("C33", "1u", "C0402", 20.75, 41.5, 90, "RF_DCPL GND"),
    chip(
        "Y2",
        "26 MHz 10 pF",
        "XTAL",
        18.5,
        51.25,
        180,
        ic("1 X1 RF_XO -,2 CASE GND -,3 X2 RF_XI -,4 CASE GND -"),
        "LT-32-26M0",
    ),
    part("C34", "10p", "C0402", 15, 52.5, 180, "RF_XI GND"),
    part("C35", "10p", "C0402", 22, 50.75, 0, "RF_XO GND"),
)

OUTPUTS = (
    chip(
        "K1",
        "5 V SPDT 10 A",
        "RELAY",
        80,
        13,
        0,
        ic("1 COM RELAY_COM -,2 COIL+ +5V -,3 NO RELAY_NO -,4 NC RELAY_NC -,5 COIL- RELAY_COIL -"),
        "TC-RL5-10",
    ),
    chip("Q1", "30 V 4 A", "SOT23", 67.5, 21, 0, ic("1 G RELAY_DRV_G I,2 S GND -,3 D RELAY_COIL -"), "BS-NM30"),
    part("R13", "100R", "R0402", 64.75, 18, 90, "RELAY_DRV_G RELAY_DRV"),
    part("R14", "100k", "R0402", 64.5, 23.5, 270, "RELAY_DRV_G GND"),
    part("D5", "60 V 1 A", "SOD123", 67.5, 15.5, 90, "+5V RELAY_COIL", "BS-SK16"),
    part("D6", "yellow", "LED0603", 67.5, 26, 0, "RELAY_COIL RELAY_LED", "BS-LY06"),
    part("R15", "1k", "R0402", 68, 28.5, 180, "RELAY_LED +5V"),
    part("J6", "Alarm contact", "TERM3", 86, 48.5, 90, "RELAY_NC RELAY_COM RELAY_NO", "HC-TB508-3"),
    part("BZ1", "100 dB 5 V", "BUZZER", 72, 43, 0, "+5V BUZZ_COIL - -", "TC-BZ85"),
    chip("Q2", "30 V 4 A", "SOT23", 64, 44.75, 0, ic("1 G BUZZ_DRV_G I,2 S GND -,3 D BUZZ_COIL -"), "BS-NM30"),
    part("R16", "100R", "R0402", 60, 39.5, 270, "BUZZ_DRV BUZZ_DRV_G"),
    part("R17", "100k", "R0402", 64, 47.75, 0, "BUZZ_DRV_G GND"),
    part("D7", "60 V 1 A", "SOD123", 64.25, 39.75, 0, "+5V BUZZ_COIL", "BS-SK16"),
    part("D8", "green", "LED0603", 64, 4.5, 90, "GND LED_PWR", "BS-LG06"),
    part("D9", "blue", "LED0603", 68, 4.5, 90, "GND LED_ST", "BS-LB06"),
    part("D10", "red", "LED0603", 72, 4.5, 90, "GND LED_AL", "BS-LR06"),
    part("R18", "2k2", "R0402", 65.75, 8, 180, "LED_PWR +5V"),
    part("R19", "1k", "R0402", 68, 8, 270, "LED_ST LED_STATUS"),
    part("R20", "1k", "R0402", 70.5, 8, 270, "LED_AL LED_ALARM"),
)

HOLES = tuple(
    Placed(f"H{i}", "M3", "HOLE", at, 0) for i, at in enumerate(((4.5, 4.5), (87.5, 4.5), (87.5, 59.5), (4.5, 59.5)), 1)
)
FIDUCIALS = tuple(
    Placed(f"FID{i}", "Fiducial", "FID", at, 0) for i, at in enumerate(((12, 6.25), (79.5, 6.25), (11.5, 57.5)), 1)
)

TARGETS = {
    "TP1": ("+24V_IN", 12, 12), "TP2": ("+24V", 30, 17), "TP3": ("+5V", 53, 7), "TP4": ("+3V3", 58, 24.5),
    "TP5": ("GND", 13, 20), "TP6": ("GND", 66, 57), "TP7": ("NRST", 47, 31), "TP8": ("SWDIO", 59.5, 34),
    "TP9": ("SWCLK", 55, 34), "TP10": ("SWO", 55, 30), "TP11": ("SDA", 66, 48), "TP12": ("SCL", 69, 48),
    "TP13": ("USB_DP", 48.5, 50), "TP14": ("USB_DM", 43.5, 50), "TP15": ("UART_TX", 52, 53),
    "TP16": ("UART_RX", 52, 47), "TP17": ("VBUS", 36, 49.5), "TP18": ("BOOT0", 42, 32),
    "TP19": ("+3V3A", 33, 45), "TP20": ("+3V3_RF", 27, 45), "TP21": ("RELAY_DRV", 61, 17),
    "TP22": ("VIN_SENSE", 19, 28), "TP23": ("BUZZ_DRV", 59, 38), "TP24": ("+24V_F", 21, 10),
    "TP25": ("RF_SCK", 29, 49.5), "TP26": ("RF_MOSI", 24, 49.5), "TP27": ("RF_MISO", 29, 53.5),
    "TP28": ("RF_RST", 24, 53.5),
}  # fmt: skip


def test_points() -> tuple[Placed, ...]:
    """A bare pad per net worth probing, all on the bottom."""
    return tuple(
        Placed(ref, net, "TP", (x, y), 0, {"1": Pin(net, "1")}, bottom=True) for ref, (net, x, y) in TARGETS.items()
    )


def all_parts() -> tuple[Placed, ...]:
    """The whole board."""
    return POWER + LOGIC + RADIO_PARTS + OUTPUTS + HOLES + FIDUCIALS + test_points()
