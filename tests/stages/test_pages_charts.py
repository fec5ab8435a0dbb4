"""Charts of pages: axes that hold what they must, and intervals that say nothing."""

import itertools
import re
from dataclasses import replace

from pipeline.indicators.estimate import Estimate
from pipeline.pages.charts import Shown, intervals, reach, shown, strip
from pipeline.pages.words import words
from pipeline.tongue import LANGUAGES

EN = words("en")


def test_an_axis_is_cut_where_one_interval_would_press_all_others_flat():
    """One limit of 400 among limits near 4 is cut off, drawn as an arrow with the number beside it; no value is ever cut."""
    plain = [Shown("treated", str(n), 1.0, -1.0, 3.0 + n / 10) for n in range(6)]
    assert reach(plain) == (-1.0, 3.5)
    low, high = reach([*plain, Shown("treated", "two frames", 2.0, -200.0, 400.0)])
    assert -4 < low < -1 and 3.5 < high < 10
    assert reach([*plain, Shown("treated", "far", 300.0, 200.0, 400.0)]) == (-1.0, 400.0)
    drawn = intervals("t", [*plain, Shown("treated", "two frames", 2.0, -200.0, 400.0)], EN, "per m2")
    assert drawn.count('class="beyond') == 2 and ">to 400<" in drawn and ">to -200<" in drawn
    assert "two frames: 2 (-200 to 400)" in drawn  # who cannot see it is told all of it
    assert 'class="beyond' not in intervals("t", plain, EN, "per m2")


def test_an_interval_of_too_few_frames_is_told_in_words():
    """Three frames whose interval spans a thousandfold: a sentence in every language and arrows without a number; its ends stay for tables."""
    few = ("2 treated frames: too few to decide anything by",)
    e = Estimate("estimated", "per m2", 2, "frames", "x", 2.0, 0.00000606, 660_000.0).with_cautions(*few)
    assert EN.interval(e) == "0.00000606 to 660,000"
    assert {words(c).between(e) for c in LANGUAGES} >= {
        "for få ruter: intervallet sier ingenting",
        "too few frames: the interval says nothing",
    }
    assert len({words(c).between(e) for c in LANGUAGES}) == len(LANGUAGES)
    drawn = intervals("t", [shown("treated", "x", e)], EN, "per m2")
    assert "660,000" not in drawn and drawn.count("beyond") == 2 and "the interval says nothing" in drawn
    for fair in (replace(e, cautions=()), replace(e, low=0.05, high=5.3), replace(e, value=0.1, low=-5.0, high=5.0)):
        assert EN.between(fair) == EN.interval(fair) != ""


def test_numbers_of_an_axis_stay_within_the_picture_and_apart():
    """Numbers of six digits on the small axis of the first page: none is cut off by an edge, none lies over the next."""
    drawn = strip("t", [Shown("treated", "x", 300_000.0, 0.0, 400_000.0)], (0.0, 400_000.0), words("nb"), "per m2")
    told = re.findall(r'<text class="tick" x="([\d.]+)" y="[\d.]+" text-anchor="(\w+)">([^<]+)<', drawn)
    assert len(told) > 1
    spans = [
        ({"start": 0, "middle": -0.5, "end": -1}[anchor] * 6 * len(text) + float(x), 6 * len(text))
        for x, anchor, text in told
    ]
    assert all(at >= 0 and at + wide <= 165 for at, wide in spans)
    assert all(a + wide < b for (a, wide), (b, _) in itertools.pairwise(spans))
