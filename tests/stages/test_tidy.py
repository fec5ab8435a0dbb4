"""Which text files the quick reader is trusted with."""

import random

from pipeline.intake import tidy


class Text:
    """A text file as `_tidied` asks for it."""

    encoding, lossy, delimiter = "utf-8", False, ","

    def __init__(self, path, data):
        self.path = path
        path.write_bytes(data)


def test_where_a_stretch_ends_changes_nothing(tmp_path, monkeypatch):
    """A file is tidy or not wherever the bytes are cut into stretches."""
    dice = random.Random(1)
    pieces = [
        b"\n",
        b"\r\n",
        b" ",
        b"\t",
        b'"',
        b",",
        b"ab",
        b'""',
        b'" ',
        b' "',
        b"\n \n",
        b"xx,yy\n",
        b'"a ""b"" c",d\n',
    ]
    weights = [3, 1, 2, 0.2, 0.5, 4, 8, 1, 1, 0.3, 0.02, 10, 6]
    for n in range(600):
        # no stretch without a line's end: that alone may depend on where it begins
        data = b"".join(p if len(p) < 4 else p + b"\n" * 0 for p in dice.choices(pieces, weights, k=30))
        longest = max(map(len, data.split(b"\n")))
        told = set()
        for stretch in (2 * longest + 2, 2 * longest + 7, 1 << 19):
            monkeypatch.setattr(tidy, "STRETCH", stretch)
            found, lines = tidy._tidied(Text(tmp_path / "a.csv", data), tmp_path)
            told.add((found is not None, lines))
        assert len(told) == 1, (n, data, told)
