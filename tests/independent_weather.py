"""A second reading of a case's weather: reference evapotranspiration one day after another, in plain Python.

Written from FAO Irrigation and Drainage Paper 56 (equation numbers are the paper's) without the library, to be held
against it. None stands for what is not known.
"""

import datetime
import math

from independent_trial import number, read_rows

KRS_INTERIOR = 0.16
WIND_WHERE_NOT_MEASURED_M_S = 2.0
STEFAN_BOLTZMANN = 4.903e-9
ONE_DAY = datetime.timedelta(days=1)
DRAWN = ("reference", "wind", "rh_min")


def day_of(text):
    """Return a date of a table as a date."""
    return datetime.date.fromisoformat(text)


def weather_by_day(folder, place):
    """Return {date: {reference mm, rain mm, wind m/s at 2 m, rh_min %}} of the days that the case's weather has."""
    return {day_of(row["date"]): one_day(row, place) for row in read_rows(folder, "weather")}


def one_day(row, place):
    """Return a day of weather; what the paper says stands in for what was not read."""
    read = {name: number(row.get(name, "")) for name in (*row, "solar_mj_m2") if name != "date"}
    tmin, tmax = read["tmin_c"], read["tmax_c"]
    wind = wind_at_2_m(read["wind_m_s"], read["wind_height_m"])
    day = {"reference": None, "rain": read["rain_mm"] or 0.0, "wind": wind, "rh_min": read["rh_min_pct"]}
    if tmin is None or tmax is None or tmin > tmax:
        return day
    vapour = vapour_kpa(tmin, tmax, read["rh_min_pct"], read["rh_max_pct"])
    if day["rh_min"] is None:
        day["rh_min"] = 100 * vapour / saturation_kpa(tmax)  # eq 63
    above, longest_h = sun_above(day_of(row["date"]), place["latitude_deg"])
    solar = read["solar_mj_m2"]
    if solar is None and read["sun_h"] is not None:
        solar = (0.25 + 0.50 * min(read["sun_h"], longest_h) / longest_h) * above  # eq 35
    if solar is None:
        solar = KRS_INTERIOR * math.sqrt(tmax - tmin) * above  # eq 50
    net = net_radiation(solar, above, (tmin, tmax), vapour, place["elevation_m"])
    day["reference"] = max(penman_monteith(tmin, tmax, vapour, wind, net, place["elevation_m"]), 0.0)
    return day


def saturation_kpa(temperature):
    """Eq 11."""
    return 0.6108 * math.exp(17.27 * temperature / (temperature + 237.3))


def vapour_kpa(tmin, tmax, rh_min, rh_max):
    """Eq 17 from both humidities, its halves from one (eq 18), eq 48 from none."""
    coolest, warmest = saturation_kpa(tmin), saturation_kpa(tmax)
    if rh_min is not None and rh_max is not None:
        return (coolest * rh_max + warmest * rh_min) / 200
    if rh_max is not None:
        return coolest * rh_max / 100
    return coolest if rh_min is None else warmest * rh_min / 100


def wind_at_2_m(speed, height):
    """Eq 47; a gauge of unknown height is taken to stand at 2 m, a wind that was not measured for 2 m/s."""
    if speed is None:
        return WIND_WHERE_NOT_MEASURED_M_S
    return speed if height in (None, 2) else speed * 4.87 / math.log(67.8 * height - 5.42)


def sun_above(date, latitude_deg):
    """Return radiation above the air [MJ/m2/day] and the longest sunshine [h]: eq 21 to 25 and 34."""
    angle = 2 * math.pi * date.timetuple().tm_yday / 365
    latitude, declination = math.radians(latitude_deg), 0.409 * math.sin(angle - 1.39)
    sunset = math.acos(-math.tan(latitude) * math.tan(declination))
    high = sunset * math.sin(latitude) * math.sin(declination)
    high += math.cos(latitude) * math.cos(declination) * math.sin(sunset)
    return 24 * 60 / math.pi * 0.0820 * (1 + 0.033 * math.cos(angle)) * high, 24 * sunset / math.pi


def net_radiation(solar, above, temperatures, vapour, elevation):
    """Eq 37 to 40."""
    clear = (0.75 + 2e-5 * elevation) * above
    emitted = sum(STEFAN_BOLTZMANN * (temperature + 273.16) ** 4 for temperature in temperatures) / 2
    lost = emitted * (0.34 - 0.14 * math.sqrt(vapour)) * (1.35 * min(solar / clear, 1) - 0.35)
    return 0.77 * solar - lost


def penman_monteith(tmin, tmax, vapour, wind, net, elevation):
    """Eq 6 with eq 7 to 9, 12 and 13; soil heat flux 0."""
    mean = (tmin + tmax) / 2
    slope = 4098 * saturation_kpa(mean) / (mean + 237.3) ** 2
    gamma = 0.665e-3 * 101.3 * ((293 - 0.0065 * elevation) / 293) ** 5.26
    deficit = (saturation_kpa(tmin) + saturation_kpa(tmax)) / 2 - vapour
    upper = 0.408 * slope * net + gamma * 900 / (mean + 273) * wind * deficit
    return upper / (slope + gamma * (1 + 0.34 * wind))


def season_days(weather, start, count):
    """Return the days of a season, gaps drawn between the days around them; None where the weather has not them all."""
    dates = [start + number * ONE_DAY for number in range(count)]
    if not all(date in weather for date in dates):
        return None
    days = [dict(weather[date], date=date) for date in dates]
    for name in DRAWN:
        for place, value in enumerate(drawn([day[name] for day in days])):
            days[place][name] = value
    return days


def drawn(values):
    """Return the values with straight lines across their gaps, and the nearest one before the first or after the last.

    A list without any value stays as it is.
    """
    known = [place for place, value in enumerate(values) if value is not None]
    filled = list(values)
    for place in range(len(values)) if known else ():
        before = max((k for k in known if k <= place), default=known[0])
        after = min((k for k in known if k >= place), default=known[-1])
        part = (place - before) / (after - before) if after > before else 0.0
        filled[place] = values[before] + part * (values[after] - values[before])
    return filled
