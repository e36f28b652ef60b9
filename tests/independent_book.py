"""The book of a case in the second appraisal: a row's number, the trial's, or what is worked out from other rows."""

import functools

from independent_lifting import worked_out
from independent_trial import read_rows, trial_means
from independent_water import WATER_NAMES, water_worked_out
from independent_weather import weather_by_day


class Book:
    """The assumption book of a case: the most specific row that fits wins."""

    def __init__(self, folder, settings):
        self.path, self.settings = folder, settings
        self.rows = read_rows(folder, "assumptions")
        self.trial = trial_means(folder, settings)
        self.treatments = {system["id"]: system.get("treatment", "") for system in settings["systems"]}

    @functools.cached_property
    def weather(self):
        """The days of weather that the case has, by date."""
        return weather_by_day(self.path, self.settings["place"])

    def word(self, name, system="", crop="", season=""):
        """Return what stands as value in the row that holds; None where the book says nothing."""
        asked = (system, crop, season)
        best, best_keys = None, -1
        for row in self.rows:
            keys = (row["system"], row["crop"], row["season"])
            fits = all(key in ("", want) for key, want in zip(keys, asked, strict=True))
            if row["name"] == name and fits and sum(key != "" for key in keys) > best_keys:
                best, best_keys = row, sum(key != "" for key in keys)
        return None if best is None else best["value"]

    def find(self, name, system="", crop="", season=""):
        """Return the row's number, or the trial's; None where the book says nothing."""
        said = self.word(name, system, crop, season)
        if said is None:
            return None
        if said == "trial":
            return self.trial[self.treatments[system]][name]
        if said == "computed" and name in WATER_NAMES:
            return water_worked_out(self, name, system, crop, season)
        if said == "computed":
            return worked_out(name, lambda needed: self.find(needed, system, crop, season))
        return float(said)

    def get(self, name, default, system="", crop="", season=""):
        """Return the number in the book, `default` where it says nothing."""
        found = self.find(name, system, crop, season)
        return default if found is None else found
