"""The writer of the record drawing."""

from __future__ import annotations

from pdf_pages import page_words, read_pdf
from sample_layers import make_context, make_layers

from wiremap.plugins import WRITERS, registry
from wiremap.write.outputs import write_layers
from wiremap.write.sheets import WRITER


def test_the_writer_is_built_in_and_writes_one_pdf(tmp_path):
    """``<slug>-sheets.pdf``, and nothing beside it."""
    paths = WRITER.write(make_layers(3), tmp_path, make_context())

    assert registry(WRITERS).formats["sheets"] is WRITER
    assert [path.name for path in paths] == ["quarry-pond-sheets.pdf"]
    assert list(tmp_path.iterdir()) == paths
    assert "RECORD DRAWING" in page_words(read_pdf(paths[0].read_bytes()).pages[0])


def test_sheets_come_with_every_build(tmp_path):
    """With reportlab installed they are written without being asked for."""
    paths = write_layers(make_layers(2), tmp_path, context=make_context())
    assert tmp_path / "quarry-pond-sheets.pdf" in paths
