"""Which encoding a text file is in. What is certain is tried first: a mark, valid UTF-8, the zeros of UTF-16.

Only a file that is none of these is guessed at. Windows-1252 (which holds Latin-1) is taken unless its letters make no
sense and those of another encoding do: a library proposes, the letters themselves decide.
"""

import codecs
import re
from dataclasses import dataclass, replace
from pathlib import Path

CHUNK = 1 << 20
SAMPLE = 1 << 16
MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# what may be proposed instead of Windows-1252
OTHERS = [
    "mac_roman",
    "cp850",
    "cp1250",
    "cp1251",
    "cp1253",
    "koi8_r",
    "cp866",
    "cp932",
    "euc_jp",
    "cp949",
    "gb18030",
    "big5",
]
NAMES = {"cp1252": "Windows-1252", "mac_roman": "Mac Roman", "cp850": "DOS 850"}
_HIGH = re.compile(rb"[^\n\r]*[\x80-\xff][^\n\r]*")
_WORD = re.compile(r"[^\W\d_]+")
_INSIDE = re.compile(r"(?<=[^\W\d_])[^\w\s\x00-\x7f’‘´·–—](?=[^\W\d_])|[\x80-\x9f\ufffd]")
_CAPITAL_INSIDE = re.compile(r"[a-zß-öø-ÿ][À-ÖØ-ÞŠŽŒŸ]")


@dataclass(frozen=True)
class Encoding:
    """An encoding by Python's name for it, and why. doubtful: some cell may hold unreadable letters or a `#`
    error; lossy: some bytes are not of that encoding; guessed: it is only likely."""

    name: str
    why: str
    doubtful: bool = False
    lossy: bool = False
    guessed: bool = False


def find_encoding(path: Path) -> Encoding:
    """The encoding of a text file; every byte of it is looked at."""
    with path.open("rb") as f:
        start = f.read(4096)
    if name := marked(start):
        return known_encoding(path, name, "a mark at its very start says so")
    if name := _wide(start):
        return known_encoding(path, name, "every other byte is zero")
    sound, doubtful, good, bad = _utf8(path)
    if sound:
        return Encoding("utf-8", "every byte agrees with it", doubtful)
    if good > 4 * bad:
        why = f"nearly every byte agrees with it; {bad} do not and were lost before we had the file"
        return Encoding("utf-8", why, doubtful=True, lossy=True)
    name, why = _single_byte(_sample(path))
    return replace(known_encoding(path, name, why), guessed=name != "cp1252")


def marked(start: bytes) -> str:
    """The encoding that a byte-order mark tells, "" without one."""
    return next((name for mark, name in MARKS if start.startswith(mark)), "")


def known_encoding(path: Path, name: str, why: str) -> Encoding:
    """That encoding; looks only for bytes which it does not define."""
    decoder = codecs.getincrementaldecoder(name)(errors="replace")
    doubtful = False
    with path.open("rb") as f:
        while chunk := f.read(CHUNK):
            text = decoder.decode(chunk)
            doubtful = doubtful or "\ufffd" in text or "#" in text
    return Encoding(name, why, doubtful or "\ufffd" in decoder.decode(b"", final=True))


def _wide(start: bytes) -> str:
    """UTF-16 without its mark: in a table nearly every other byte is zero."""
    pairs = len(start) // 2
    if pairs < 2:
        return ""
    low, high = start[: 2 * pairs : 2], start[1 : 2 * pairs : 2]
    if high.count(0) > 0.6 * pairs and low.count(0) < 0.05 * pairs:
        return "utf-16-le"
    if low.count(0) > 0.6 * pairs and high.count(0) < 0.05 * pairs:
        return "utf-16-be"
    return ""


def _utf8(path: Path) -> tuple[bool, bool, int, int]:
    """Whether all of it is UTF-8, whether a cell is doubtful, and how many letters beyond ASCII are good and bad."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    doubtful = False
    try:
        with path.open("rb") as f:
            while chunk := f.read(CHUNK):
                text = decoder.decode(chunk)
                doubtful = doubtful or b"#" in chunk or (not text.isascii() and "\ufffd" in text)
            decoder.decode(b"", final=True)
            return True, doubtful, 0, 0
    except UnicodeDecodeError:
        pass
    decoder = codecs.getincrementaldecoder("utf-8")(errors="replace")
    good = bad = 0
    with path.open("rb") as f:
        while chunk := f.read(CHUNK):
            text = decoder.decode(chunk)
            broken = text.count("\ufffd")
            bad += broken
            good += len(text) - len(text.encode("ascii", "ignore")) - broken
    return False, True, good, bad + len(decoder.decode(b"", final=True))


def _sample(path: Path) -> bytes:
    """The first lines that have letters beyond ASCII."""
    lines, size = [], 0
    with path.open("rb") as f:
        while size < SAMPLE and (chunk := f.read(CHUNK)):
            for found in _HIGH.finditer(chunk):
                lines.append(found.group()[:4096])
                size += len(lines[-1])
                if size >= SAMPLE:
                    break
    return b"\n".join(lines)


def _single_byte(sample: bytes) -> tuple[str, str]:
    usual = strangeness(sample.decode("cp1252", "replace"))
    if usual == 0:
        return "cp1252", "it is not UTF-8, and its letters make sense in Windows-1252"
    from charset_normalizer import from_bytes

    for match in from_bytes(sample, cp_isolation=OTHERS, threshold=0.35, enable_fallback=False):
        text = sample.decode(match.encoding, "replace")
        if strangeness(text) * 5 <= usual and (usual >= 2 or match.encoding in NAMES):
            return (
                match.encoding,
                f"it is not UTF-8, and its letters make sense in {NAMES.get(match.encoding, match.encoding)} only",
            )
    return "cp1252", "it is not UTF-8, and no other encoding is more likely; its letters beyond A to Z need a look"


def strangeness(text: str) -> int:
    """How many places nobody writes: a sign or control character inside a word, a capital after a small letter, and
    words in which every letter has an accent."""
    words = (w for w in _WORD.findall(text) if len(w) > 2)
    accents = sum(all("\x80" <= c <= "\u02ff" for c in w) for w in words)
    return len(_INSIDE.findall(text)) + len(_CAPITAL_INSIDE.findall(text)) + accents
