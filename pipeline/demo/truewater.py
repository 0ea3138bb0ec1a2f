"""True water: every tag's true value, told in the order in which water flows through the town."""

from pipeline.demo.calendar import Calendar
from pipeline.demo.chlorine import clearwell, far_zone
from pipeline.demo.chlorine import wells as well_chlorine
from pipeline.demo.distribution import tanks, wells
from pipeline.demo.effluent import effluent
from pipeline.demo.filters import runs, turbidities
from pipeline.demo.lift import sewers
from pipeline.demo.reactors import reactors
from pipeline.demo.rhythm import sewage, water_demand
from pipeline.demo.water import Signals, coagulant, raw_water, settled_water
from pipeline.demo.weather import Weather, make_weather


def make_water(seed: int, calendar: Calendar) -> Signals:
    """Return the true value of every tag at every instant, in the tag's unit."""
    weather = make_weather(seed, calendar)
    return {**_drinking_water(seed, calendar, weather), **_wastewater(seed, calendar, weather)}


def _drinking_water(seed: int, calendar: Calendar, weather: Weather) -> Signals:
    raw = raw_water(seed, calendar, weather)
    settled = settled_water(seed, calendar, raw)
    well = wells(seed, calendar)
    town = tanks(seed, calendar, water_demand(seed, calendar, weather), well)
    settled_ntu = (settled["AIT-111"] + settled["AIT-112"]) / 2.0
    run = runs(seed, calendar, town["FIT-131"], settled_ntu)
    finished = clearwell(seed, calendar, weather, run["FIT-101"])
    return {
        **raw,
        **settled,
        **well,
        **town,
        **run,
        **finished,
        **coagulant(seed, calendar, raw["AIT-101"], run["FIT-101"]),
        **turbidities(seed, calendar, run, settled_ntu),
        **well_chlorine(seed, calendar, well),
        **far_zone(seed, calendar, weather, finished["AIT-131"]),
    }


def _wastewater(seed: int, calendar: Calendar, weather: Weather) -> Signals:
    collected = sewers(seed, calendar, weather, sewage(seed, calendar))
    influent_mgd = collected["FIT-501"]
    return {
        **collected,
        **reactors(seed, calendar, influent_mgd),
        **effluent(seed, calendar, weather, influent_mgd),
    }
