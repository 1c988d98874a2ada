"""Points of a DXF drawing as references."""

from __future__ import annotations

import builtins

import ezdxf
import pytest

from wiremap.errors import MissingExtraError, ReadError
from wiremap.plugins import FileOptions
from wiremap.read.dxf import READER


def save(tmp_path, draw, *, units=6):
    """Save a drawing."""
    drawing = ezdxf.new(units=units)
    drawing.layers.add("CORNERS")
    draw(drawing.modelspace(), drawing)
    drawing.saveas(tmp_path / "a.dxf")
    return tmp_path / "a.dxf"


def everything(space, drawing):
    """Draw one of each kind, and lines that are no points."""
    drawing.blocks.new("MONUMENT").add_circle((0, 0), 1)
    space.add_point((1, 2, 3), dxfattribs={"layer": "CORNERS"})
    space.add_blockref("MONUMENT", (4, 5))
    tagged = space.add_blockref("MONUMENT", (6, 7))
    tagged.add_attrib("NAME", "BM 7", (6, 7))
    space.add_text("BC1").set_placement((8, 9))
    space.add_mtext("north\\Pcorner").set_location((10, 11))
    space.add_line((0, 0), (1, 1))


def test_points_blocks_and_texts_are_references_with_their_names(tmp_path):
    """A block is named by its attribute, else by its own name; a text by what it says."""
    (table,) = READER.read(save(tmp_path, everything), FileOptions(crs="EPSG:26914"))
    frame = table.frame
    assert table.crs == "EPSG:26914"
    assert frame["reference"].tolist()[1:] == ["MONUMENT", "BM 7", "BC1", "north corner"]
    assert frame[["easting", "northing"]].to_numpy().tolist() == [
        [1, 2], [4, 5], [6, 7], [8, 9], [10, 11]
    ]  # fmt: skip
    assert frame["elevation_m"].tolist() == [3, 0, 0, 0, 0]
    assert frame["kind"].tolist()[0] == "CORNERS"
    assert set(frame["feature"]) == {"reference"}


@pytest.mark.parametrize(
    ("units", "column"), [(21, "elevation_ftus"), (2, "elevation_ft"), (0, "elevation")]
)
def test_heights_are_in_the_unit_of_the_drawing(tmp_path, units, column):
    """$INSUNITS of the DXF reference: 2 feet, 6 metres, 21 US survey feet, 0 none."""
    path = save(tmp_path, lambda space, _: space.add_point((1, 2, 3)), units=units)
    assert READER.read(path, FileOptions())[0].frame[column].tolist() == [3]


def test_a_flat_drawing_has_no_elevations(tmp_path):
    """Height 0 is nobody's measurement."""
    path = save(tmp_path, lambda space, _: space.add_point((1, 2)))
    assert "elevation_m" not in READER.read(path, FileOptions())[0].frame


@pytest.mark.parametrize(
    "data", [b"", b"not a drawing\n", b"\x00\xff" * 100, b"0\nSECTION\n2\nENT"]
)
def test_a_file_that_is_no_drawing_is_one_clear_error(tmp_path, data):
    """Empty, text, binary, cut off."""
    (tmp_path / "a.dxf").write_bytes(data)
    with pytest.raises(
        ReadError, match=r"a\.dxf: (is not a DXF drawing that can be read|holds no p)"
    ):
        READER.read(tmp_path / "a.dxf", FileOptions())


def test_a_drawing_of_lines_only_holds_no_points(tmp_path):
    """Lines are base, not references."""
    path = save(tmp_path, lambda space, _: space.add_line((0, 0), (1, 1)))
    with pytest.raises(ReadError, match="holds no point, block or text in model space"):
        READER.read(path, FileOptions())


def test_a_missing_package_names_the_install_line(tmp_path, monkeypatch):
    """ezdxf is an extra."""
    path = save(tmp_path, everything)
    real = builtins.__import__

    def without(name, *rest):
        if name == "ezdxf":
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(MissingExtraError, match=r"pip install 'wiremap\[dxf\]'"):
        READER.read(path, FileOptions())
