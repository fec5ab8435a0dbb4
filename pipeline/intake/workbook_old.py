"""Error cells and percentages of the old binary workbooks (.xls), which calamine gives as blank and as shares of 1.

Reads just enough of the file for that.

The file is a little file system (compound file, version 3 or 4); its stream `Workbook` is a row of records, each a
type, a length and its bytes. ValueError where it does not hold together.
"""

import struct
from array import array
from collections.abc import Iterator

from pipeline.intake.workbook_percents import BUILT_IN, Percents, may_be_percent, packed

ERRORS = {0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!", 0x2A: "#N/A"}
_FORMULA, _SHEET, _BOOL_OR_ERROR, _START, _END = 0x0006, 0x0085, 0x0205, 0x0809, 0x000A
_NUMBER, _SHORT, _SHORTS, _FORMAT, _STYLE = 0x0203, 0x027E, 0x00BD, 0x041E, 0x00E0
_NEW = 0x0600  # the version of 1997, whose texts are UTF-16 or its lower half
_LAST = 0xFFFFFFFA  # numbers from here on are no sectors
_MINI = 4096
_ENTRY = 128


def old_marks(data: bytes) -> tuple[dict[int, dict[tuple[int, int], str]], dict[int, Percents]]:
    """By the place of a sheet: (row from 1, column from 0) -> the error that stands there; cells shown as a percentage."""
    try:
        stream = _stream(data, ("Workbook", "Book"))
        starts = [struct.unpack_from("<I", body)[0] for kind, body in _records(stream, 0) if kind == _SHEET]
        styles = _percent_styles(stream)
        errors = {n: _errors(stream, start) for n, start in enumerate(starts)}
        return errors, {n: _percents(stream, start, styles) for n, start in enumerate(starts) if styles}
    except (struct.error, IndexError, KeyError) as e:
        raise ValueError("its insides do not hold together; save it as .xlsx") from e


def _errors(stream: bytes, start: int) -> dict[tuple[int, int], str]:
    found = {}
    for kind, body in _records(stream, start):
        if kind == _BOOL_OR_ERROR and body[7]:
            found[_place(body)] = ERRORS.get(body[6], "#N/A")
        elif kind == _FORMULA and body[12:14] == b"\xff\xff" and body[6] == 2:
            found[_place(body)] = ERRORS.get(body[8], "#N/A")
    return found


def _percent_styles(stream: bytes) -> dict[int, str]:
    """Number of a cell's style -> its format, of those with a percent sign."""
    codes, formats, new = dict(BUILT_IN), list[int](), False
    for kind, body in _records(stream, 0):
        if kind == _START:
            new = struct.unpack_from("<H", body)[0] == _NEW
        elif kind == _FORMAT:
            text, wide = (body[5:], body[4] & 1) if new else (body[3:], 0)
            codes[struct.unpack_from("<H", body)[0]] = text.decode("utf-16-le" if wide else "latin-1", "replace")
        elif kind == _STYLE:
            formats.append(struct.unpack_from("<H", body, 2)[0])
    told = {n: codes.get(number, "") for n, number in enumerate(formats)}
    return {style: code for style, code in told.items() if may_be_percent(code)}


def _percents(stream: bytes, start: int, styles: dict[int, str]) -> Percents:
    codes = sorted(set(styles.values()))
    cells = array("Q")
    for kind, body in _records(stream, start):
        if kind in (_NUMBER, _SHORT, _FORMULA):
            found = [(*struct.unpack_from("<HH", body), struct.unpack_from("<H", body, 4)[0])]
        elif kind == _SHORTS:
            row, first = struct.unpack_from("<HH", body)
            found = [(row, first + n, style) for n, (style, _) in enumerate(struct.iter_unpack("<HI", body[4:-2]))]
        else:
            continue
        cells.extend(packed(row + 1, at, codes.index(styles[style])) for row, at, style in found if style in styles)
    return Percents(codes, cells)


def _place(body: bytes) -> tuple[int, int]:
    row, column = struct.unpack_from("<HH", body)
    return row + 1, column


def _records(stream: bytes, at: int) -> Iterator[tuple[int, bytes]]:
    """The records of one part of the stream, up to its end; parts inside it (charts) are gone over."""
    depth = 0
    while at + 4 <= len(stream):
        kind, size = struct.unpack_from("<HH", stream, at)
        depth += (kind == _START) - (kind == _END)
        if depth == 1:
            yield kind, stream[at + 4 : at + 4 + size]
        at += 4 + size
        if depth <= 0:
            return


def _stream(data: bytes, names: tuple[str, ...]) -> bytes:
    size = 1 << struct.unpack_from("<H", data, 30)[0]
    first_directory, _, _, first_mini = struct.unpack_from("<IIII", data, 48)
    more, many = struct.unpack_from("<II", data, 68)
    table = list(struct.unpack_from("<109I", data, 76))
    for _ in range(many if more < _LAST else 0):
        part = _ints(_sector(data, more, size))
        table += part[:-1]
        more = part[-1]
    follows = [n for at in table if at < _LAST for n in _ints(_sector(data, at, size))]
    directory = _chain(data, first_directory, follows, size)
    entries = [directory[i : i + _ENTRY] for i in range(0, len(directory) - _ENTRY + 1, _ENTRY)]
    for entry in entries:
        name = entry[: max(struct.unpack_from("<H", entry, 64)[0] - 2, 0)].decode("utf-16-le", "replace")
        start, length = struct.unpack_from("<II", entry, 116)
        if name in names and length >= _MINI:
            return _chain(data, start, follows, size)[:length]
        if name in names:
            minis = _chain(data, struct.unpack_from("<I", entries[0], 116)[0], follows, size)
            return _chain(minis, start, _ints(_chain(data, first_mini, follows, size)), 64, first=0)[:length]
    raise KeyError("no stream of that name")


def _chain(data: bytes, at: int, follows: list[int], size: int, first: int = 1) -> bytes:
    """The bytes of a chain of sectors. A chain that never ends is none."""
    parts: list[bytes] = []
    while at < _LAST:
        parts.append(_sector(data, at, size, first))
        at = follows[at]
        if len(parts) > len(follows):
            raise KeyError("a chain in a circle")
    return b"".join(parts)


def _sector(data: bytes, at: int, size: int, first: int = 1) -> bytes:
    """A sector; the header takes the place of one. KeyError when the file ends before it."""
    found = data[(at + first) * size : (at + first + 1) * size]
    if not found:
        raise KeyError("the file is cut off")
    return found


def _ints(data: bytes) -> list[int]:
    return [n for (n,) in struct.iter_unpack("<I", data[: len(data) // 4 * 4])]
