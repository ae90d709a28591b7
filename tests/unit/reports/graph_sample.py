"""An invented flow diagram of the usual size: two dozen apparatus with loops and signals."""

from __future__ import annotations

from cakewright.reports.drawings.graph import DrawingGraph, Edge, LineKind, Node

MAIN, SECOND, UTILITY, SIGNAL = LineKind


def sample_graph() -> DrawingGraph:
    """A whole line with recycles, dosing, drains and instruments."""
    nodes = (
        Node("works", "boundary", "sludge"),
        Node("tank", "stirred_tank", "sludge feed tank", "B1", "60 m³"),
        Node("pump", "displacement_pump", "feed pump", "P1", "4–12 m³/h, 1.5 kW"),
        Node("measure", "measuring_tank", "measuring tank", "B2", "0.6 m³"),
        Node("floc", "flocculation_tank", "flocculation tank", "B3", "1.2 m³, 0.55 kW"),
        Node("press", "multi_disc_press", "multi-disc screw press", "K1", "2 shafts, 1.9 kW"),
        Node("conveyor", "conveyor", "cake conveyor", "H1", "6 m, 1.1 kW"),
        Node("skip", "skip", "skip", "B4", "10 m³"),
        Node("outlet", "boundary", "cake to composting"),
        Node("makedown", "dosing_set", "polymer make-down", "B5", "2 × 1.0 m³"),
        Node("dosing", "dosing_pump", "polymer pump", "P2", "100–600 L/h"),
        Node("powder", "silo", "powder hopper", "B6", "50 kg"),
        Node("coagulant", "tank", "coagulant", "B7", "1 m³"),
        Node("cpump", "dosing_pump", "coagulant pump", "P3", "2–20 L/h"),
        Node("water", "boundary", "service water"),
        Node("wpump", "pump", "wash pump", "P4", "2.2 kW"),
        Node("sump", "sump", "filtrate sump", "B8", "2 m³"),
        Node("rpump", "pump", "return pump", "P5", "15 m³/h"),
        Node("back", "boundary", "to the works"),
        Node("fan", "fan", "exhaust fan", "V1", "400 m³/h"),
        Node("air", "boundary", "air treatment"),
        Node("level", "meter", "LIT", "", ""),
        Node("flow", "meter", "FIC", "", ""),
    )
    edges = (
        Edge("1", "works", "tank", MAIN, "1"),
        Edge("2", "tank", "pump", MAIN, "2"),
        Edge("3", "pump", "measure", MAIN, "3"),
        Edge("4", "measure", "floc", MAIN, "4"),
        Edge("5", "floc", "press", MAIN, "5"),
        Edge("6", "press", "conveyor", MAIN, "6"),
        Edge("7", "conveyor", "skip", MAIN, "7"),
        Edge("8", "skip", "outlet", MAIN, "8"),
        Edge("9", "measure", "tank", SECOND, "9"),
        Edge("10", "powder", "makedown", SECOND, "10"),
        Edge("11", "makedown", "dosing", SECOND, "11"),
        Edge("12", "dosing", "floc", SECOND, "12"),
        Edge("13", "coagulant", "cpump", SECOND, "13"),
        Edge("14", "cpump", "measure", SECOND, "14"),
        Edge("15", "water", "makedown", UTILITY, "15"),
        Edge("16", "water", "wpump", UTILITY, "16"),
        Edge("17", "wpump", "press", UTILITY, "17"),
        Edge("18", "press", "sump", SECOND, "18"),
        Edge("19", "floc", "sump", SECOND, "19"),
        Edge("20", "sump", "rpump", SECOND, "20"),
        Edge("21", "rpump", "back", SECOND, "21"),
        Edge("22", "press", "fan", UTILITY, "22"),
        Edge("23", "fan", "air", UTILITY, "23"),
        Edge("s1", "level", "tank", SIGNAL),
        Edge("s2", "flow", "dosing", SIGNAL),
    )
    return DrawingGraph("Flow diagram of an invented line", nodes, edges)
