"""Plot plans and DXF."""

from __future__ import annotations

import io
from typing import Any

import pytest
from ezdxf.filemanagement import read
from tests.unit.reports.graph_sample import sample_graph

from cakewright.errors import OutOfRangeError
from cakewright.line.items import Footprint
from cakewright.line.layout import layout_of
from cakewright.reports.drawings.check import overlaps
from cakewright.reports.drawings.dxf import drawing_dxf
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.plot_plan import plan_scale, plot_plan
from cakewright.reports.drawings.shapes import Stroke, Words
from cakewright.reports.drawings.sheet import on_sheet

LAYOUT = layout_of(
    tuple(
        Footprint(tag, label, length, width, 1.0, 1.0, 0.5, 1.0, 1.0, outdoors=tag.startswith("S"))
        for tag, label, length, width in (
            ("D-301", "multi-disc screw press", 3.6, 1.4),
            ("T-301", "flocculation tank", 1.2, 1.2),
            ("P-101", "feed pump", 1.6, 0.5),
            ("H-501", "cake conveyor", 6.0, 0.5),
            ("S-501", "skip", 6.0, 2.5),
        )
    )
)


def rectangles(layer: str) -> list[tuple[float, float]]:
    """Length and width of every rectangle of a layer, in metres."""
    scale = plan_scale(LAYOUT) / 1000.0
    found = []
    for shape in plot_plan(LAYOUT, "plan").shapes:
        if isinstance(shape, Stroke) and shape.layer == layer:
            xs, ys = zip(*shape.points, strict=True)
            found.append(((max(xs) - min(xs)) * scale, (max(ys) - min(ys)) * scale))
    return found


def test_walls_and_footprints_are_to_scale() -> None:
    """Every footprint and the room have their size in the plan, and the measures say it."""
    places = (*LAYOUT.inside, *LAYOUT.outside)
    for place, found in zip(places, rectangles("footprints"), strict=True):
        assert found == pytest.approx((place.item.length, place.item.width))
    for place, (_, free) in zip(places, rectangles("access"), strict=True):
        assert free == pytest.approx(place.item.access_front)
    assert rectangles("walls") == [pytest.approx((LAYOUT.length, LAYOUT.width))]
    words = {s.text for s in plot_plan(LAYOUT, "plan").shapes if isinstance(s, Words)}
    assert {f"{LAYOUT.length:.1f} m", f"{LAYOUT.width:.1f} m"} <= words
    assert overlaps(plot_plan(LAYOUT, "plan")) == []


def test_nothing_to_draw_is_refused() -> None:
    """A plan of nothing is an error, not an empty sheet."""
    with pytest.raises(OutOfRangeError, match="at least one footprint"):
        plot_plan(layout_of([]), "plan")


def test_dxf_is_valid_and_layered() -> None:
    """The file reads back without an audit finding; weights and layers are kept."""
    text = drawing_dxf(flow_diagram(sample_graph()))
    document = read(io.StringIO(text))
    assert not document.audit().has_errors
    lines = document.modelspace().query('LWPOLYLINE[layer=="lines main"]')
    layer = document.layers.get("lines main")
    assert layer.dxf.lineweight == 100
    by_layer = -1
    assert {line.dxf.lineweight for line in lines} == {by_layer, 25}  # 25: arrow heads
    signal = document.layers.get("lines signal")
    assert (signal.dxf.linetype, signal.dxf.color) != (layer.dxf.linetype, layer.dxf.color)
    texts = {entity.dxf.text for entity in document.modelspace().query("TEXT")}
    assert {"K1", "multi-disc screw", "press", "60 m³"} <= texts


def test_symbols_are_blocks_that_know_their_tags() -> None:
    """Each apparatus is one block with its tag, so that a list can be taken from the drawing."""
    document = read(io.StringIO(drawing_dxf(flow_diagram(sample_graph()))))
    blocks: Any = document.modelspace().query("INSERT")
    assert len(blocks) == len(sample_graph().nodes)
    tags = {block.get_attrib_text("TAG") for block in blocks}
    assert {node.tag for node in sample_graph().nodes} == tags
    press = next(b for b in blocks if b.get_attrib_text("TAG") == "K1")
    assert (press.dxf.name, press.get_attrib_text("LABEL")) == (
        "MULTI_DISC_PRESS",
        "multi-disc screw press",
    )


@pytest.mark.parametrize("scale", [1.0, 50.0])
def test_the_sheet_lies_in_paper_space(scale: float) -> None:
    """Frame and title are on a sheet of their true size; a viewport shows the model at its scale,
    and nothing of the sheet lies in the model."""
    sheet = on_sheet(flow_diagram(sample_graph()), (("drawing", "a diagram"),))
    document = read(io.StringIO(drawing_dxf(sheet, scale=scale)))
    assert not document.audit().has_errors
    paper: Any = document.layout("Sheet")
    frame = paper.query('LWPOLYLINE[layer=="frame"]')[0]
    assert max(x for x, *_ in frame.get_points()) == pytest.approx(sheet.width - 10.0)
    assert not document.modelspace().query('*[layer=="frame"]')
    views = [view for view in paper.viewports() if view.dxf.height == sheet.height]
    assert [view.dxf.view_height / view.dxf.height for view in views] == [pytest.approx(scale)]
    assert document.header["$EXTMAX"][0] == pytest.approx(sheet.width * scale)


def test_plan_dxf_is_in_true_millimetres() -> None:
    """With its scale the plan's press is 3,600 mm long in the file."""
    scale = plan_scale(LAYOUT)
    document = read(io.StringIO(drawing_dxf(plot_plan(LAYOUT, "plan"), scale=scale)))
    first = document.modelspace().query('LWPOLYLINE[layer=="footprints"]')[0]
    xs = [point[0] for point in first.get_points()]
    assert max(xs) - min(xs) == pytest.approx(3600.0)


def test_dxf_is_the_same_each_time() -> None:
    """No date and no random id is in the file."""
    drawing = plot_plan(LAYOUT, "plan")
    assert drawing_dxf(drawing) == drawing_dxf(drawing)
