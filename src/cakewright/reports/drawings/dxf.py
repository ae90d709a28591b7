"""A drawing as DXF: symbols as blocks with attributes, layers, the sheet in paper space."""

from __future__ import annotations

from collections.abc import Sequence
from io import StringIO
from typing import Any

from cakewright.reports.drawings.shapes import Disc, Drawing, Insert, Shape, Words
from cakewright.reports.drawings.symbols import symbol

__all__ = ["drawing_dxf"]

_WEIGHTS = (13, 18, 25, 35, 50, 70, 100)
_PAPER = ("frame", "table")
_TEXT = "cakewright"
# Colour (of the format's index), weight [1/100 mm] and line type of each layer; others as the last.
_LAYERS = {
    "lines main": (5, 100, "CONTINUOUS"),
    "lines secondary": (4, 50, "CONTINUOUS"),
    "lines utility": (3, 50, "CONTINUOUS"),
    "lines signal": (6, 25, "DASHED"),
    "apparatus": (7, 50, "CONTINUOUS"),
    "valves": (7, 25, "CONTINUOUS"),
    "instruments": (6, 25, "CONTINUOUS"),
    "stream numbers": (1, 25, "CONTINUOUS"),
    "walls": (7, 100, "CONTINUOUS"),
    "access": (8, 25, "DASHED"),
    "footprints": (4, 50, "CONTINUOUS"),
    "measures": (1, 25, "CONTINUOUS"),
    "": (7, 25, "CONTINUOUS"),
}


def drawing_dxf(drawing: Drawing, *, scale: float = 1.0) -> str:
    """The drawing as DXF text; ``scale`` 50 turns a plan drawn 1:50 into true millimetres.

    What belongs to the sheet (frame, title strip, tables) lies in paper space at 1:1, all else in
    model space; a viewport shows it at its scale.
    """
    import ezdxf
    from ezdxf import units

    # Without fixed dates and ids the same drawing would not give the same text.
    options: Any = ezdxf.options  # type: ignore[attr-defined]
    keep = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        document: Any = ezdxf.new("R2010", setup=["linetypes"])  # type: ignore[attr-defined]
        document.units = units.MM
        document.header["$LTSCALE"] = 0.25 * scale
        document.styles.add(_TEXT, font="arial.ttf")
        _set_layers(document, drawing)
        space = document.modelspace()
        paper = [shape for shape in drawing.shapes if shape.layer in _PAPER]
        for shape in drawing.shapes:
            if shape.layer not in _PAPER:
                _add(space, shape, drawing.height, scale)
        _set_extents(document, drawing, scale)
        if paper:
            _set_paper(document, drawing, paper, scale)
        # The library lists these in the order of a set, which differs from run to run.
        for name in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(name)
        buffer = StringIO()
        document.write(buffer)
    finally:
        options.write_fixed_meta_data_for_testing = keep
    return buffer.getvalue()


def _set_layers(document: Any, drawing: Drawing) -> None:
    used = dict.fromkeys(shape.layer for shape in drawing.shapes)
    inserts = [shape for shape in drawing.shapes if isinstance(shape, Insert)]
    used |= dict.fromkeys(part.layer for each in inserts for part in symbol(each.name))
    for name in used:
        colour, weight, kind = _LAYERS.get(name, _LAYERS[""])
        document.layers.add(name, color=colour, lineweight=weight, linetype=kind)
    for name in dict.fromkeys(each.name for each in inserts):
        block = document.blocks.new(_block(name))
        for part in symbol(name):
            _add(block, part, 0.0, 1.0)
        for at, field in enumerate(("TAG", "LABEL")):
            # for lists out of the drawing; what is read on it stands beside the symbol
            definition = block.add_attdef(field, (0.0, -2.0 * at), dxfattribs={"height": 1.0})
            definition.is_invisible = True


def _block(name: str) -> str:
    return name.upper().replace(" ", "_").replace("-", "_")


def _set_extents(document: Any, drawing: Drawing, scale: float) -> None:
    width, height = drawing.width * scale, drawing.height * scale
    space = document.modelspace()
    space.reset_extents((0.0, 0.0, 0.0), (width, height, 0.0))
    space.reset_limits((0.0, 0.0), (width, height))
    document.header["$EXTMIN"], document.header["$EXTMAX"] = (0, 0, 0), (width, height, 0)
    document.set_modelspace_vport(height, (width / 2, height / 2))


def _set_paper(document: Any, drawing: Drawing, paper: Sequence[Shape], scale: float) -> None:
    width, height = drawing.width, drawing.height
    layout = document.layouts.get("Layout1")
    layout.page_setup(size=(round(width), round(height)), margins=(0, 0, 0, 0), units="mm")
    for shape in paper:
        _add(layout, shape, height, 1.0)
    layout.add_viewport(
        center=(width / 2, height / 2),
        size=(width, height),
        view_center_point=(width * scale / 2, height * scale / 2),
        view_height=height * scale,
    )
    document.layouts.rename("Layout1", "Sheet")


def _weight(weight: float) -> int:
    """Nearest weight of the format, in hundredths of a millimetre."""
    return min(_WEIGHTS, key=lambda known: abs(known - weight * 100))


def _add(space: Any, shape: Shape, height: float, scale: float) -> None:
    def at(point: tuple[float, float]) -> tuple[float, float]:
        return point[0] * scale, (height - point[1]) * scale

    if isinstance(shape, Words):
        _add_words(space, shape, at(shape.at), scale)
        return
    if isinstance(shape, Insert):
        size = shape.factor * scale
        look = {"layer": shape.layer, "xscale": size, "yscale": size, "zscale": size}
        block = space.add_blockref(_block(shape.name), at(shape.at), dxfattribs=look)
        if shape.tag:
            block.add_auto_attribs({"TAG": shape.tag, "LABEL": shape.label})
        return
    given = _LAYERS.get(shape.layer, _LAYERS[""])
    own = _weight(shape.weight)
    style: dict[str, Any] = {"layer": shape.layer}
    if own != given[1]:
        style["lineweight"] = own
    if isinstance(shape, Disc):
        space.add_circle(at(shape.centre), shape.radius * scale, dxfattribs=style)
        return
    kind = "DASHED" if shape.dashed else "CONTINUOUS"
    if kind != given[2]:
        style["linetype"] = kind
    points = [at(point) for point in shape.points]
    if shape.fill == "ink" and len(points) in (3, 4):
        # The format's filled shape takes its third and fourth corner the other way round.
        space.add_solid([*points[:2], *reversed(points[2:])], dxfattribs=style)
    space.add_lwpolyline(points, close=shape.closed, dxfattribs=style)


def _add_words(space: Any, words: Words, at: tuple[float, float], scale: float) -> None:
    from ezdxf.enums import TextEntityAlignment

    anchors = {
        "start": TextEntityAlignment.LEFT,
        "middle": TextEntityAlignment.CENTER,
        "end": TextEntityAlignment.RIGHT,
    }
    # DXF gives the height of capitals, about 0.7 of the size of a text.
    look = {"layer": words.layer, "style": _TEXT}
    entity = space.add_text(words.text, height=words.size * 0.7 * scale, dxfattribs=look)
    entity.set_placement(at, align=anchors[words.anchor])
