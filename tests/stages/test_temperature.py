"""Temperature: drawn loggers in, values worked by hand out; what is too thin is refused in words."""

# ruff: noqa: DTZ001 (readings are told in UTC, without a zone)

import datetime as dt

import pytest

from pipeline import look, run
from pipeline.errors import BadUsage
from pipeline.groups import temperature
from pipeline.indicators.season import season_days, season_of
from pipeline.programme import parse_rules

KELP, CLUB = "Laminaria hyperborea", "club"
LIMIT = f"""
[[temperature_limit]]
species = "{KELP}"
degc = 18
source = "our reading of the literature"
"""
WEEK = (14, 16, 18, 19.5, 20, 17, 15)
HEAD = "logger_key,quantity,at,value,unit,site_key,flag,in_water_from,in_water_to,calibrated_on"
CALIBRATED = "2025-01-05"


def reading(at, value, *, logger="L1", quantity="temperature", flag="", wet=("", ""), unit="degC", site="CB"):
    """One row of a logger's sheet."""
    return f"{logger},{quantity},{at:%Y-%m-%dT%H:%M}Z,{value},{unit},{site},{flag},{wet[0]},{wet[1]},{CALIBRATED}"


def hours(day, value, count=24, **more):
    """So many of a day's hourly readings, all alike. In January the local day in Lisbon is UTC's."""
    return [reading(dt.datetime.combine(day, dt.time(h)), value, **more) for h in range(count)]


def week(*, counts=(24,) * 7, first=dt.date(2025, 1, 10), **more):
    """A week of hourly readings: WEEK's means, so many readings a day."""
    return [
        row
        for n, (value, count) in enumerate(zip(WEEK, counts, strict=True))
        for row in hours(first + dt.timedelta(days=n), value, count, **more)
    ]


def sheet(rows):
    """The rows as a file."""
    return "\n".join([HEAD, *rows, ""]).encode()


@pytest.fixture
def figures_of(new_programme, rules):
    """Figures of a programme with these readings and rules, by indicator (or indicator and season)."""

    def made(rows, more=LIMIT):
        programme = new_programme(rules=rules + more)
        programme.take({"club/reading.csv": sheet(rows)})
        return {
            k: e
            for k, e in programme.figures(groups=[temperature]).items()
            if k[0].startswith(("heat", "mean", "warm", "day", "deg", "long"))
        }

    return made


def by_name(figures):
    """By indicator alone, where there is one of each."""
    assert len({k[0] for k in figures}) == len(figures)
    return {k[0]: e for k, e in figures.items()}


def test_a_week_by_hand(figures_of):
    """A week of 14 16 18 19.5 20 17 15 degC has two days above 18 (18 itself is none), in one run, and 3.5 degree-days."""
    told = by_name(figures_of(week()))
    assert told["mean temperature"].value == pytest.approx(sum(WEEK) / 7)
    assert (told["warmest day"].value, told["warmest day"].note) == (20, "on 2025-01-14")
    assert told["days above limit"].value == 2
    assert told["longest run above limit"].value == 2
    assert told["degree-days above limit"].value == 3.5
    for name, e in told.items():
        assert (e.low, e.high) == (None, None)
        assert e.n == 7 or name == "heatwaves"
    assert told["days above limit"].cautions == ("limit set by the programme: 18 degC, our reading of the literature",)
    assert told["mean temperature"].cautions == ()


def test_without_a_limit_nothing_is_measured_against_one(figures_of):
    """The programme states no limit, so no figure has one."""
    assert set(by_name(figures_of(week(), ""))) == {"mean temperature", "warmest day", "heatwaves"}


@pytest.mark.parametrize(("count", "known"), [(19, False), (20, True)])
def test_a_day_needs_four_fifths_of_its_readings(figures_of, count, known):
    """19 of 24 hourly readings are no day, 20 are; a missing day is neither hot nor cold."""
    told = by_name(figures_of(week(counts=(24, 24, 24, 24, count, 24, 24))))
    days, run_, degree = (told[f"{n} above limit"] for n in ("days", "longest run", "degree-days"))
    if known:
        assert (days.value, run_.value, degree.value) == (2, 2, 3.5)
        return
    assert (days.state, days.value_from, days.value_to) == ("bounded", 1, 2)
    assert (run_.state, run_.value_from, run_.value_to) == ("bounded", 1, 2)
    assert (degree.value, degree.note) == (1.5, "at least: days that are missing add nothing")
    assert told["mean temperature"].value == pytest.approx((sum(WEEK) - 20) / 6)
    why = "days of which too little is known, from 2025-01-10 to 2025-01-16: 1 of 7"
    assert all(why in e.cautions for n, e in told.items() if n != "heatwaves")


def test_the_share_is_of_the_loggers_own_interval(figures_of):
    """A logger that reads every three hours has a day with 7 of 8 readings, and none with 6."""
    days = [
        [reading(dt.datetime(2025, 1, 10 + n, h), 12 + n) for h in range(0, 3 * count, 3)]
        for n, count in enumerate((8, 7, 6, 8))
    ]
    told = by_name(figures_of([row for rows in days for row in rows], ""))
    assert told["mean temperature"].value == pytest.approx((12 + 13 + 15) / 3)


def test_a_day_is_the_local_one(figures_of):
    """In July a reading at 23:30 UTC belongs to the next day in Lisbon."""
    start = dt.datetime(2025, 7, 9, 23, 30)
    rows = [reading(start + dt.timedelta(hours=n), 10 + (n >= 24)) for n in range(48)]
    told = by_name(figures_of(rows, ""))
    assert (told["mean temperature"].value, told["mean temperature"].n) == (10.5, 2)
    assert told["mean temperature"].note == "from 2025-07-10 to 2025-07-11"


def test_readings_that_are_not_of_the_sea_are_left_out_and_counted(figures_of):
    """On the boat, flagged, impossible, in Fahrenheit: none is in a mean, each is counted beside it."""
    wet, day = ("2025-01-10T00:00Z", "2025-01-16T23:30Z"), dt.date(2025, 1, 12)
    others = [
        reading(dt.datetime(2025, 1, 9, 22), 19, wet=wet), reading(dt.datetime(2025, 1, 17, 3), 19, wet=wet),
        reading(dt.datetime.combine(day, dt.time(3, 10)), 25, flag="doubtful"), reading(dt.datetime.combine(day, dt.time(3, 11)), 25, flag="bad"),
        reading(dt.datetime.combine(day, dt.time(3, 20)), 41), reading(dt.datetime.combine(day, dt.time(3, 30)), 25, unit="degF"),
    ]  # fmt: skip
    told = by_name(figures_of(week(wet=wet) + others))
    assert told["mean temperature"].value == pytest.approx(sum(WEEK) / 7)
    assert told["degree-days above limit"].value == 3.5
    assert told["mean temperature"].cautions == (
        "readings left out, as no sea here can have them: 1",
        "readings left out, flagged doubtful or bad: 2",
        "readings left out, in another unit than degC: 1",
        "readings left out, taken out of the water: 2",
    )


def test_a_day_in_air_is_left_out(figures_of):
    """A day that moves by more than 5 degC within an hour is no day of the sea, and is counted as left out."""
    rows = [r for r in week() if ",2025-01-14T12:00Z," not in f",{r.split(',')[2]},"]
    rows.append(reading(dt.datetime(2025, 1, 14, 12), 26))
    told = by_name(figures_of(rows))
    assert told["warmest day"].value == 19.5
    assert told["days above limit"].value_to == 2
    assert "days left out, moved by more than 5 degC within an hour, as in air: 1" in told["warmest day"].cautions


def test_an_uncalibrated_sensor_is_said_to_be_one(figures_of):
    """Where nobody told of a calibration, every figure of the logger says so; so it does of an untold site."""
    rows = [r.replace(CALIBRATED, "").replace(",CB,", ",,") for r in week()]
    told = by_name(figures_of(rows))
    for e in told.values():
        assert "readings of a sensor not calibrated, as far as anybody told: 168" in e.cautions
        assert "nobody told at which site the logger hung" in e.cautions


def test_lowest_and_highest_alone_give_degree_days_by_a_sine(figures_of):
    """Where a logger gives each day's lowest and highest alone, degree-days follow a sine, and nothing pretends to a daily mean."""
    rows = []
    for n, (low, high) in enumerate([(10, 20), (16, 22)]):
        at = dt.datetime(2025, 1, 10 + n, 12)
        rows += [reading(at, low, quantity="lowest temperature of the day"), reading(at, high, quantity="highest temperature of the day")]  # fmt: skip
    told = by_name(figures_of(rows, LIMIT.replace("18", "15")))
    assert told["degree-days above limit"].value == pytest.approx(1.591549 + 4, abs=5e-7)
    assert (told["degree-days above limit"].n, told["degree-days above limit"].estimator[:11]) == (2, "single sine")
    for name in ("mean temperature", "warmest day", "days above limit", "longest run above limit"):
        assert told[name].state == "not estimable"
        assert told[name].note == "only the lowest and highest of each day are told, which give no daily mean"


def test_three_readings_a_day_are_no_mean(figures_of):
    """A logger that reads three times a day gives no daily mean, and every figure says why."""
    rows = [reading(dt.datetime(2025, 1, 10 + n, h), 12) for n in range(5) for h in (0, 8, 16)]
    for e in by_name(figures_of(rows)).values():
        assert e.state == "not estimable"
        assert "none of 5 days has enough" in e.note or "a short logger" in e.note


def test_seasons_are_calendar_years_or_three_months(figures_of):
    """A week over new year is two calendar years, or one meteorological season that is named by its months."""
    rows = week(first=dt.date(2024, 12, 29))

    def of(told):
        return {k[-1]: e.n for k, e in told.items() if k[0] == "mean temperature"}

    assert of(figures_of(rows, "")) == {"2024": 3, "2025": 4}
    assert of(figures_of(rows, '[temperature]\nseasons = "meteorological"\n')) == {"2024-12 to 2025-02": 7}


@pytest.mark.parametrize("meteorological", [False, True])
def test_every_day_lies_in_its_season(meteorological):
    """A season's name gives back the days it is of, without gap or overlap, for 800 days in a row."""
    day = dt.date(2023, 1, 1)
    for n in range(800):
        today = day + dt.timedelta(days=n)
        first, last = season_days(season_of(today, meteorological))
        assert first <= today <= last
        assert season_of(first - dt.timedelta(days=1), meteorological) != season_of(first, meteorological)
        assert season_of(last, meteorological) == season_of(first, meteorological)


# --- heatwaves ----------------------------------------------------------------------------------------------


def usual(threshold=17, years=(1991, 2020), more=""):
    """A supplied climatology: 15 degC all year, and that threshold."""
    days = "\n".join(f"{n},15,{threshold}" for n in range(1, 367))
    return f'[[climatology]]\nsource = "a gridded product"\nfirst_year = {years[0]}\nlast_year = {years[1]}\n{more}days = """\nday,seasonal,threshold\n{days}\n"""\n'


def test_a_short_logger_cannot_show_a_heatwave(figures_of):
    """Without a climatology the heatwave is refused in words, and no other figure speaks of one."""
    told = figures_of(week())
    refused = {k: e for k, e in told.items() if "heatwave" in k[0]}
    assert list(refused) == [("heatwaves", "CB", CLUB, "L1")]
    [e] = refused.values()
    assert e.state == "not estimable"
    assert e.note.startswith("a short logger cannot show a heatwave: 0 full years, where a climatology of 30")
    for key, e in told.items():
        assert key in refused or "heatwave" not in " ".join([*key, e.note, e.estimator, *e.cautions])


def test_a_supplied_climatology_shows_it(figures_of):
    """Six days at 19.5 above a threshold of 17 and a mean of 15 are one event of 4.5 degC, category 3, by hand."""
    rows = [r for n in range(9) for r in hours(dt.date(2025, 1, 10 + n), 19.5 if 1 <= n <= 6 else 15)]
    told = by_name(figures_of(rows, usual()))
    assert told["heatwaves"].value == 1
    assert told["heatwave length"].value == 6
    assert told["heatwave length"].note == "from 2025-01-11 to 2025-01-16"
    assert told["heatwave greatest intensity"].value == pytest.approx(4.5)
    assert told["heatwave mean intensity"].value == pytest.approx(4.5)
    assert told["heatwave cumulative intensity"].value == pytest.approx(27)
    # 1 + (19.5 - 17) / (17 - 15) = 2.25
    assert (told["heatwave category"].value, told["heatwave category"].note[-6:]) == (2, "strong")
    for name in ("heatwaves", "heatwave category"):
        assert "compared with a climatology of 1991 to 2020: a gridded product" in told[name].cautions
        assert "a logger on the bottom is compared with temperatures measured otherwise" in told[name].cautions


def test_a_sites_own_climatology_comes_first(figures_of):
    """A climatology that names the site is used there rather than one that holds everywhere; one of 20 years is cautioned."""
    rows = [r for n in range(7) for r in hours(dt.date(2025, 1, 10 + n), 19.5)]
    told = figures_of(rows, usual() + usual(21, (2001, 2020), 'sites = ["CB"]\n'))
    [(key, e)] = told_of(told, "heatwaves")
    assert (key[1], e.value) == ("CB", 0)
    assert "the climatology is of 20 years only; 30 are asked for" in e.cautions


def told_of(figures, name):
    """The figures of one indicator."""
    return [(k, e) for k, e in figures.items() if k[0] == name]


# --- rules --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("more", "why"),
    [
        (LIMIT + LIMIT, "Laminaria hyperborea, 18 stands twice"),
        (usual() + usual(), "everywhere stands twice"),
        (usual(14), "a threshold above the seasonal mean"),
        (usual().replace("\n366,15,17", ""), "has 365 days; 366 are wanted"),
        (usual().replace("\n7,15,17", "\n6,15,17"), "a day from 1 to 366 that stands once"),
        (usual().replace("\n7,15,17", "\n7,15"), "three numbers are wanted"),
        (usual().replace("day,seasonal", "date,seasonal"), "begins with the line day,seasonal,threshold"),
        (usual(years=(2020, 1991)), "lies before `first_year`"),
        ("[temperature]\nfull_day_pct = 0\n", "above 0 and up to 100 is wanted"),
        ('[temperature]\nseasons = "quarters"\n', 'one of "calendar year", "meteorological"'),
        ("[temperature]\nwarm = 1\n", "`warm` is not known here"),
    ],
)
def test_rules_that_are_none(rules, more, why):
    """A slip in the rules on temperature is refused with what is wanted."""
    with pytest.raises(BadUsage, match=why):
        parse_rules((rules + more).encode())


# --- home ---------------------------------------------------------------------------------------------------


def test_temperatures_lead_home(new_programme, rules, tmp_path):
    """Each figure rests on its logger's readings of its season, rows held are told beside it, and evidence gives it again."""
    programme = new_programme(rules=rules + LIMIT + usual())
    rows = week() + week(first=dt.date(2024, 3, 10)) + week(logger="L2") + hours(dt.date(2025, 1, 20), 12, site="ZZ")
    rows += [reading(dt.datetime(2025, 1, 10, 1, 1), "warm"), reading(dt.datetime(2025, 1, 10, 1, 2), 55)]
    programme.take({"club/reading.csv": sheet(rows)})
    run.refresh(programme.root)
    every = [f for f in look.published(programme.root) if f.of("logger") == "L1" and f.of("season") in ("", "2025")]
    assert {f.indicator for f in every} >= {"mean temperature", "degree-days above limit", "heatwaves"}
    for f in every:
        assert "readings that wait and are left out: 24" in f.estimate.cautions
        assert "rows of readings that are held: 1" in f.estimate.cautions
        homes = look.lead_home(programme.root, f)
        counted = {h.key.split(" | ")[2][:4] for h in homes if h.role == "counted"}
        assert counted == ({"2024", "2025"} if "heatwave" in f.indicator else {"2025"})
        assert sum(h.role == "counted" for h in homes) == 168 * len(counted)
        assert sum(h.role == "left out" for h in homes) == 1
        assert {h.key.split(" | ")[0] for h in homes if h.kind == "reading"} == {"L1"}
        if f.indicator in ("longest run above limit", "heatwaves"):
            assert look.evidence(programme.root, f, tmp_path / f.id)
