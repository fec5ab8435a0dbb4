"""Any position in any notation, and any listed name however written, comes back."""

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from pipeline.intake.angles import Angle, Unread, read_angle, read_pair
from pipeline.intake.grids import to_wgs84
from pipeline.intake.names import Names, folded

NAMES = Names()
HALF = Decimal("0.00000005")  # of the last digit that is kept

# language -> letters of north, south, east and west
LETTERS = {
    "en": "NSEW", "es": "NSEO", "pt": "NSLO", "fr": "NSEO", "it": "NSEO", "de": "NSOW", "sv": "NSÖV", "nb": "NSØV",
}  # fmt: skip
STYLES = [
    "{d}° {m}' {s}\"", "{d}º{m}’{s}’’", "{d} {m} {s}", "{d}:{m}:{s}", "{d}d{m}m{s}s", "{d}deg {m}min {s}sec", "{d}° {m}′ {s}″",
    "{d}\u00a0°\u00a0{m} ´ {s}", "{d}° {n}'", "{d} {n}", "{d}:{n}", "{d}d {n}m", "{x}", "{x}°", "{x}d",
]  # fmt: skip


@st.composite
def written(draw, axis, language, signed=None):
    """(text, degrees, step): a coordinate written in some style to some precision; signed: with a sign, or a letter."""
    style, places = draw(st.sampled_from(STYLES)), draw(st.integers(0, 5))
    most = 89 if axis == "latitude" else 179
    d, m = draw(st.integers(0, most)), draw(st.integers(0, 59))
    last = Decimal(draw(st.integers(0, 60 * 10**places - 1))).scaleb(-places)
    share = Decimal(draw(st.integers(0, 10**places - 1))).scaleb(-places)
    value, step = {
        "s": (d + Decimal(m) / 60 + last / 3600, Decimal(1).scaleb(-places) / 3600),
        "n": (d + last / 60, Decimal(1).scaleb(-places) / 60),
        "x": (d + share, Decimal(1).scaleb(-places)),
    }["s" if "{s}" in style else "n" if "{n}" in style else "x"]
    mark = draw(st.sampled_from(".,"))
    text = style.format(
        d=d,
        m=m,
        s=f"{last:f}".replace(".", mark),
        n=f"{last:f}".replace(".", mark),
        x=f"{d + share:f}".replace(".", mark),
    )
    negative = draw(st.booleans())
    if draw(st.booleans()) if signed is None else signed:
        return ("-" if negative else "") + text, -value if negative else value, step
    letter = LETTERS[language][{"latitude": 0, "longitude": 2}[axis] + negative]
    text = draw(st.sampled_from([f"{letter} {text}", f"{letter}{text}", f"{text} {letter}", f"{text}{letter}"]))
    return text, -value if negative else value, step


LANGUAGE = st.sampled_from(sorted(LETTERS))


@given(st.data())
def test_any_coordinate_in_any_notation_comes_back(data):
    """A coordinate in any style, precision, decimal mark, language and side comes back as it was meant, with its step."""
    language, axis = data.draw(LANGUAGE), data.draw(st.sampled_from(["latitude", "longitude"]))
    text, value, step = data.draw(written(axis, language))
    got = read_angle(text, language)
    assert isinstance(got, Angle), (text, got)
    assert abs(got.degrees - value) <= HALF, text
    assert abs(got.step - step) < Decimal("1e-20"), text
    assert got.axis in ("", axis)


@given(st.data())
def test_any_pair_in_one_cell_comes_back(data):
    """Two coordinates in one cell come back, in either order if both have letters, with any mark between."""
    language, signed = data.draw(LANGUAGE), data.draw(st.booleans())
    lat, y, _ = data.draw(written("latitude", language, signed))
    lon, x, _ = data.draw(written("longitude", language, signed))
    between = data.draw(st.sampled_from(["; ", ";", " / ", " | "] + ([] if signed else [" ", ", "])))
    turned = not signed and data.draw(st.booleans())
    text = between.join([lon, lat] if turned else [lat, lon])
    got = read_pair(text, language)
    if between == " " and isinstance(got, Unread):  # a letter in the middle may belong to either side
        return
    assert not isinstance(got, Unread), (text, got)
    assert abs(got[0].degrees - y) <= HALF and abs(got[1].degrees - x) <= HALF, text


@given(st.text(max_size=40))
def test_no_text_breaks_the_reading(text):
    """Any text is a position within its limits or a reason, never an error."""
    one, both = read_angle(text), read_pair(text)
    assert isinstance(one, Unread) or abs(one.degrees) <= 180
    assert isinstance(both, Unread) or (abs(both[0].degrees) <= 90 and abs(both[1].degrees) <= 180)
    assert isinstance(NAMES.read(text), str | Unread)


def test_what_only_looks_like_an_angle():
    """Digits are never parted from each other to make minutes, and what is missing is not made up."""
    for text in [
        "42'",
        "38.742'",
        '38°42"',
        '42"',
        "38.5.2",
        "3842.5 N",
        "38° 4230 N",
        "38 42.5 30",
        "38 42 60 N",
        "N",
        "38 N S",
        "N 38 W",
    ]:
        assert isinstance(read_angle(text), Unread), text


@given(st.floats(35, 60), st.floats(-9, 9))
def test_grids_come_back(latitude, longitude):
    """A place put on a UTM grid by PROJ itself comes back to a centimetre."""
    import pyproj

    zone = int((longitude + 180) // 6) + 1
    east, north = pyproj.Transformer.from_crs("EPSG:4326", f"EPSG:{32600 + zone}", always_xy=True).transform(
        longitude, latitude
    )
    [place] = to_wgs84(f"EPSG:{32600 + zone}", [east], [north])
    assert place is not None and abs(place[0] - latitude) < 1e-7 and abs(place[1] - longitude) < 1e-7


ACCEPTED = st.sampled_from(sorted(NAMES.accepted))


@given(st.data())
def test_an_accepted_name_however_written_gives_itself(data):
    """Case, spaces, underscores and authors do not matter; neither does a short genus that fits one listed name alone."""
    name = data.draw(ACCEPTED)
    genus, epithet = name.split()
    short = {n for n in NAMES.scientific if n[0] == folded(genus)[0] and n.split()[1] == folded(epithet)}
    ways = [name, name.upper(), name.lower(), f"  {genus}   {epithet} ", f"{genus}_{epithet}", f"{name} (Linnaeus) J.Agardh, 1848",
            f"{name} Linnaeus, 1758"]  # fmt: skip
    if len({NAMES.scientific[n] for n in short}) == 1:
        ways += [f"{genus[0]}. {epithet}", f"{genus[0]}.{epithet}", f"{genus[0].lower()} {epithet}"]
    for written_so in ways:
        assert NAMES.read(written_so) == name, written_so
    assert NAMES.read(name.replace(" ", " CF ")) == name.replace(" ", " cf. ")


def test_every_everyday_name_and_synonym_is_read_or_asked():
    """Each word of the list gives its one accepted name, or names every species that it may be; synonyms give one."""
    for word, by_language in NAMES.everyday.items():
        for language, fitting in by_language.items():
            got = NAMES.read(word.upper(), language)
            if len(fitting) == 1:
                assert got == next(iter(fitting)), word
            else:
                assert isinstance(got, Unread) and all(f in got.advice for f in fitting), word
    for old, new in NAMES.scientific.items():
        assert NAMES.read(old) == new


def test_reading_twice_changes_nothing():
    """What was read once reads as itself, so that a sheet written back enters the same events."""
    for text in [
        *NAMES.accepted,
        "Laminaria cf. digitata",
        "cf. Laminaria digitata",
        "Laminaria sp.",
        "Laminaria spp.",
    ]:
        assert NAMES.read(text) == text
