"""A drawing as DXF: one layer per kind of thing, line weights kept, sizes in millimetres."""

from __future__ import annotations

from io import StringIO
from typing import Any

from cakewright.reports.drawings.shapes import Disc, Drawing, Shape, Stroke, Words

__all__ = ["drawing_dxf"]

_WEIGHTS = (13, 18, 25, 35, 50, 70, 100)


def drawing_dxf(drawing: Drawing, *, scale: float = 1.0) -> str:
    """The drawing as DXF text; ``scale`` 50 turns a plan drawn 1:50 into true millimetres."""
    import ezdxf
    from ezdxf import units

    # Without fixed dates and ids the same drawing would not give the same text.
    options: Any = ezdxf.options  # type: ignore[attr-defined]
    keep = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document = ezdxf.new("R2010", setup=["linetypes"])  # type: ignore[attr-defined]
        document.units = units.MM
        document.header["$LTSCALE"] = 0.25 * scale
        document.styles.add("cakewright", font="arial.ttf")
        for layer in dict.fromkeys(shape.layer for shape in drawing.shapes):
            document.layers.add(layer)
        space = document.modelspace()
        for shape in drawing.shapes:
            _add(space, shape, drawing.height, scale)
        document.set_modelspace_vport(drawing.height * scale, _middle(drawing, scale))
        # The library lists these in the order of a set, which differs from run to run.
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)
        buffer = StringIO()
        document.write(buffer)
    finally:
        options.write_fixed_meta_data_for_testing = keep
    return buffer.getvalue()


def _middle(drawing: Drawing, scale: float) -> tuple[float, float]:
    return drawing.width * scale / 2, drawing.height * scale / 2


def _weight(weight: float) -> int:
    """Nearest weight of the format, in hundredths of a millimetre."""
    return min(_WEIGHTS, key=lambda known: abs(known - weight * 100))


def _add(space: Any, shape: Shape, height: float, scale: float) -> None:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * scale, (height - point[1]) * scale

    if isinstance(shape, Words):
        _add_words(space, shape, at(shape.at), scale)
        return
    look: dict[str, Any] = {"layer": shape.layer, "lineweight": _weight(shape.weight)}
    if isinstance(shape, Disc):
        space.add_circle(at(shape.centre), shape.radius * scale, dxfattribs=look)
        return
    _add_stroke(space, shape, [at(point) for point in shape.points], look)


def _add_stroke(
    space: Any, stroke: Stroke, points: list[tuple[float, float]], look: dict[str, Any]
) -> None:
    if stroke.dashed:
        look["linetype"] = "DASHED"
    if stroke.fill == "ink" and len(points) == 3:
        space.add_solid(points, dxfattribs=look)
    space.add_lwpolyline(points, close=stroke.closed, dxfattribs=look)


def _add_words(space: Any, words: Words, at: tuple[float, float], scale: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    anchors = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    # DXF gives the height of capitals, about 0.7 of the size of a text.
    look = {"layer": words.layer, "style": "cakewright"}
    entity = space.add_text(words.text, height=words.size * 0.7 * scale, dxfattribs=look)
    entity.set_placement(at, align=anchors[words.anchor])
