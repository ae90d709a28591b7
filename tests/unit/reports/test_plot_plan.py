"""Plot plans and DXF."""

from __future__ import annotations

import io

import pytest
from ezdxf.filemanagement import read
from tests.unit.reports.graph_sample import sample_graph

from cakewright.errors import OutOfRangeError
from cakewright.reports.drawings.check import overlaps
from cakewright.reports.drawings.dxf import drawing_dxf
from cakewright.reports.drawings.flow import flow_diagram
from cakewright.reports.drawings.plot_plan import PlanItem, plan_scale, plot_plan
from cakewright.reports.drawings.shapes import Stroke

ITEMS = (
    PlanItem("K1", "multi-disc screw press", 3.6, 1.4, 1.0, 0.8, 0.8, 1.5),
    PlanItem("B3", "flocculation tank", 1.2, 1.2, 0.8, 0.2, 0.3, 0.3),
    PlanItem("P1", "feed pump", 1.6, 0.5, 0.8, 0.3, 0.3, 0.6),
    PlanItem("H1", "cake conveyor", 6.0, 0.5, 0.8, 0.3, 0.3, 0.3),
    PlanItem("B4", "skip", 6.0, 2.5, 3.0, 0.5, 0.8, 0.8, True),
)


def boxes(layer: str) -> list[tuple[float, float, float, float]]:
    """Left, top, width and height of every rectangle of a layer, in metres."""
    scale = plan_scale(ITEMS) / 1000.0
    found = []
    for shape in plot_plan(ITEMS, "plan").shapes:
        if isinstance(shape, Stroke) and shape.layer == layer:
            xs, ys = zip(*shape.points, strict=True)
            found.append(
                (
                    min(xs) * scale,
                    min(ys) * scale,
                    (max(xs) - min(xs)) * scale,
                    (max(ys) - min(ys)) * scale,
                )
            )
    return found


def test_footprints_are_to_scale() -> None:
    """Every footprint has its size in the plan."""
    for item, (_, _, width, height) in zip(ITEMS, boxes("footprints"), strict=True):
        assert width == pytest.approx(item.length)
        assert height == pytest.approx(item.width)


def test_free_space_is_kept_on_each_side() -> None:
    """The dashed space reaches as far as asked, in front (below) and behind."""
    for item, body, free in zip(ITEMS, boxes("footprints"), boxes("access"), strict=True):
        assert body[0] - free[0] == pytest.approx(item.left)
        assert body[1] - free[1] == pytest.approx(item.back)
        assert free[1] + free[3] - body[1] - body[3] == pytest.approx(item.front)


def test_free_spaces_do_not_share_ground() -> None:
    """No two items' spaces overlap, and no text lies on another."""
    spaces = boxes("access")
    for at, (x, y, w, h) in enumerate(spaces):
        for x2, y2, w2, h2 in spaces[at + 1 :]:
            apart = x + w <= x2 + 1e-9 or x2 + w2 <= x + 1e-9
            assert apart or y + h <= y2 + 1e-9 or y2 + h2 <= y + 1e-9
    assert overlaps(plot_plan(ITEMS, "plan")) == []


@pytest.mark.parametrize("length", [0.0, -1.0, float("nan")])
def test_impossible_sizes_are_refused(length: float) -> None:
    """A footprint without size names its item and what to give."""
    with pytest.raises(OutOfRangeError, match=r"X1: got a footprint of .* give the item's size"):
        plot_plan([PlanItem("X1", "thing", length, 1.0)], "plan")


def test_nothing_to_draw_is_refused() -> None:
    """A plan of nothing is an error, not an empty sheet."""
    with pytest.raises(OutOfRangeError, match="at least one footprint"):
        plot_plan([], "plan")


def test_dxf_is_valid_and_layered() -> None:
    """The file reads back without an audit finding; weights and layers are kept."""
    text = drawing_dxf(flow_diagram(sample_graph()))
    document = read(io.StringIO(text))
    assert not document.audit().has_errors
    lines = document.modelspace().query('LWPOLYLINE[layer=="lines main"]')
    assert {line.dxf.lineweight for line in lines} <= {100, 25}
    assert 100 in {line.dxf.lineweight for line in lines}
    texts = {entity.dxf.text for entity in document.modelspace().query("TEXT")}
    assert {"K1", "multi-disc screw", "press", "60 m³"} <= texts


def test_plan_dxf_is_in_true_millimetres() -> None:
    """With its scale the plan's press is 3,600 mm long in the file."""
    scale = plan_scale(ITEMS)
    document = read(io.StringIO(drawing_dxf(plot_plan(ITEMS, "plan"), scale=scale)))
    first = document.modelspace().query('LWPOLYLINE[layer=="footprints"]')[0]
    xs = [point[0] for point in first.get_points()]
    assert max(xs) - min(xs) == pytest.approx(3600.0)


def test_dxf_is_the_same_each_time() -> None:
    """No date and no random id is in the file."""
    drawing = plot_plan(ITEMS, "plan")
    assert drawing_dxf(drawing) == drawing_dxf(drawing)
