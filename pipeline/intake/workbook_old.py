"""Error cells of the old binary workbooks (.xls), which calamine gives as blank. Reads just enough of the file for that.

The file is a little file system (compound file, version 3 or 4); its stream `Workbook` is a row of records, each a
type, a length and its bytes. ValueError where it does not hold together.
"""

import struct
from collections.abc import Iterator

ERRORS = {0x00: "#NULL!", 0x07: "#DIV/0!", 0x0F: "#VALUE!", 0x17: "#REF!", 0x1D: "#NAME?", 0x24: "#NUM!", 0x2A: "#N/A"}
_FORMULA, _SHEET, _BOOL_OR_ERROR, _START, _END = 0x0006, 0x0085, 0x0205, 0x0809, 0x000A
_LAST = 0xFFFFFFFA  # numbers from here on are no sectors
_MINI = 4096
_ENTRY = 128


def old_errors(data: bytes) -> dict[int, dict[tuple[int, int], str]]:
    """By the place of a sheet: (row from 1, column from 0) -> the error that stands there."""
    try:
        stream = _stream(data, ("Workbook", "Book"))
        starts = [struct.unpack_from("<I", body)[0] for kind, body in _records(stream, 0) if kind == _SHEET]
        return {n: _errors(stream, start) for n, start in enumerate(starts)}
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
