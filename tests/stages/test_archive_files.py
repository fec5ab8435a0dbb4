"""An archive's files are made on disk, a part at a time: they are what they would be if they were made whole in memory."""

import io
import json
import random
import zipfile

import pyarrow as pa
import pytest

from pipeline import disk
from pipeline.archive import geo, pack
from pipeline.archive_files import ROOM, room_in


def test_a_room_is_empty_and_goes_whatever_happens(tmp_path):
    """What an export that was killed left in the room is gone when the next begins, and nothing stays behind one that failed."""
    left = tmp_path / ROOM / "left.csv"
    left.parent.mkdir()
    left.write_text("left")
    with pytest.raises(ValueError, match="stop"), room_in(tmp_path) as room:
        assert list(room.iterdir()) == []
        (room / "made.csv").write_text("made")
        raise ValueError("stop")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("same", [True, False])
def test_a_file_is_put_in_place_from_any_disk(tmp_path, monkeypatch, same):
    """It takes the other's place whole; from the same disk it is moved there, from another it is copied."""
    made, path = tmp_path / "made", tmp_path / "out" / "path"
    path.parent.mkdir()
    made.write_text("new")
    path.write_text("old")
    monkeypatch.setattr(disk, "on_one_disk", lambda *_: same)
    disk.put_in_place(made, path)
    assert path.read_text() == "new" and made.exists() is not same
    assert list(path.parent.iterdir()) == [path]


def test_a_zip_is_the_same_however_much_is_read_at_once(monkeypatch):
    """Files that are read in pieces come to the bytes that the zip library makes of them whole."""
    dice = random.Random(5)
    texts = {f"{n}.csv": dice.randbytes(size).hex().encode() for n, size in (("b", 300_000), ("a", 10), ("c", 0))}
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w") as z:
        for name in sorted(texts):
            told = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            told.create_system, told.external_attr = 3, 0o644 << 16
            z.writestr(told, texts[name], zipfile.ZIP_DEFLATED, 9)
    for piece in (1000, 1 << 22):
        monkeypatch.setattr(pack, "CHUNK", piece)
        made = io.BytesIO()
        pack.write_zip({name: io.BytesIO(text) for name, text in texts.items()}, made)
        assert made.getvalue() == whole.getvalue()


@pytest.mark.parametrize("n", [0, 1, 12])
def test_a_map_is_the_same_however_many_rows_are_in_memory(monkeypatch, n):
    """Features that are written one by one come to the text that the JSON library makes of them whole."""
    monkeypatch.setattr(geo, "BATCH", 5)
    rows = pa.table({"name": [f"é {i}" for i in range(n)], "value": pa.array([None, *range(1, n)][:n], pa.int64())})
    points = [("-9.5", f"{i}") for i in range(n)]
    made = io.StringIO()
    geo.write_geojson(rows, points, made)
    features = [
        {"type": "Feature", "geometry": {"type": "Point", "coordinates": [-9.5, float(i)]}, "properties": row}
        for i, row in enumerate(rows.to_pylist())
    ]
    whole = json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, indent=1) + "\n"
    assert made.getvalue() == whole
