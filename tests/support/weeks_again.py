"""The weeks' figures once more, from the book's export alone, with numpy, scipy and statsmodels: none of the kiosk's code.

Keys are those of the page's data-key. `every` gives a line a week, as a long span has them.
"""

from collections import defaultdict
from datetime import date, timedelta

import numpy
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.proportion import confint_proportions_2indep

from tests.support.evening_again import by_causes, exported, own_worth, right, setting_runs, share, within

Z = stats.norm.ppf(0.975)
USUAL_S, USUAL_SD_S, CURVED_S = 2.0, 1.0, 0.2


def worths_again(pulls_csv, records_jsonl):
    """{(grinder, coffee): (seconds a notch, low, high)} where a turn told it."""
    days = _days(*exported(pulls_csv, records_jsonl))
    found = {pair: _worth([day["turns"][pair] for day in days.values() if pair in day["turns"]]) for pair in _pairs(days)}
    return {pair: worth for pair, worth in found.items()
            if any(pair in day["turns"] for day in days.values())}


def weeks_again(pulls_csv, records_jsonl, every=False, price_per_kg=None):
    """{key: value} of every number that the weeks of the exported span have on a page."""
    pulls, kinds = exported(pulls_csv, records_jsonl)
    days, found = _days(pulls, kinds), {}
    for pair in _pairs(days):
        name = f"{pair[0]}, {pair[1]}, over the weeks"
        found |= {f"{name}/{key}": value for key, value in _grinder(pair, days, every).items()}
    found |= {f"Week by week/{key}": value for key, value in _by_week(days, every, price_per_kg).items()}
    checks = sorted(((check["day"], check["nominal_g"], check["read_g"]) for check in kinds["ScaleChecked"]), key=lambda each: each[0])
    found |= {f"Scale checks/check_{n}/value": read - nominal for n, (_, nominal, read) in enumerate(checks[-8:], 1)}
    if not every:
        for day, of_it in days.items():
            found |= share(f"Day by day/day_{day}", *_judged(of_it["pulls"]))
    return found


def span_again(pulls_csv, records_jsonl, price_per_kg):
    """{key: value} of every number on the page of a long span."""
    pulls, kinds = exported(pulls_csv, records_jsonl)
    good, judged = _judged(pulls)
    how = [each["how"] for each in kinds["OrderEnded"]]
    undosed = sum(p["dose_g"] is None for p in pulls)
    whole = {"pulls/value": len(pulls), "served/value": how.count("served"), "cancelled/value": how.count("cancelled"),
             **share("in_window", good, judged), **(share("no_dose", undosed, len(pulls)) if undosed else {})}
    found = {f"The whole span/{key}": value for key, value in whole.items() if value}
    found |= {f"Waste/{key}": value for key, value in by_causes(pulls, kinds["GroundsPurged"], price_per_kg).items()}
    return found | weeks_again(pulls_csv, records_jsonl, True, price_per_kg)


def _days(pulls, kinds):
    """What each service day holds: pulls, purges, runs by grinder and coffee, and what its turns say of a notch."""
    names = "Pull", "GroundsPurged", "NotchMoved", "FlagRaised", "Noted"
    by_day = defaultdict(lambda: {kind: [] for kind in names})
    for kind, records in (("Pull", pulls), *((kind, kinds[kind]) for kind in names[1:])):
        for each in records:
            by_day[each["day"]][kind].append(each)
    days = {}
    for day, there in sorted(by_day.items()):
        own, runs, turns = there["Pull"], {}, {}
        for pair in {(p["grinder"], p["coffee"]) for p in own}:
            mine = [p for p in own if (p["grinder"], p["coffee"]) == pair]
            moves = sorted(_of(pair, there["NotchMoved"]), key=lambda move: move["when"])
            runs[pair] = setting_runs(mine, moves)
            told = [each for each in ([p for p in run if p["told"]] for run in runs[pair]) if each]
            if told and (worth := own_worth(told)) is not None:
                turns[pair] = worth[0], worth[4], sum(
                    a[0]["setting"] != b[0]["setting"] and min(len(a), len(b)) >= 3 for a, b in zip(told, told[1:]))
        days[day] = {"pulls": own, "runs": runs, "turns": turns, **there}
    return days


def _pairs(days):
    return sorted({(e["grinder"], e["coffee"]) for day in days.values()
                   for e in (*day["pulls"], *day["GroundsPurged"], *day["NotchMoved"], *day["FlagRaised"])})


def _of(pair, records):
    return [each for each in records if (each["grinder"], each["coffee"]) == pair]


def _worth(turns):
    """Each day's by how sure it is, with what is usual; a drift that is no straight line adds 0.2 s."""
    weights = numpy.array([1 / USUAL_SD_S ** 2, *(1 / sd ** 2 for _, sd, _ in turns)])
    value = numpy.average([USUAL_S, *(worth for worth, _, _ in turns)], weights=weights)
    reach = Z * numpy.sqrt(1 / weights.sum() + CURVED_S ** 2)
    return max(0.5, value), value - reach, value + reach


def _judged(pulls):
    verdicts = [verdict for p in pulls if (verdict := right(p)) is not None]
    return sum(verdicts), len(verdicts)


def _grinder(pair, days, every):
    worth, low, high = _worth([day["turns"][pair] for day in days.values() if pair in day["turns"]])
    found = within("worth", worth, low, high)
    suits, ground_g = [], 0.0
    for name, day in days.items():
        if any(note["what"] == "burrs" and note["facts"].get("grinder") == pair[0] for note in day["Noted"]):
            suits, ground_g = [], 0.0
        ground_g += sum(p["target_dose_g"] if p["dose_g"] is None else p["dose_g"] for p in day["pulls"] if p["grinder"] == pair[0])
        ground_g += sum(each["grams"] for each in day["GroundsPurged"] if each["grinder"] == pair[0])
        told = [p for run in day["runs"].get(pair, ()) for p in run if p["told"]]
        if told:
            suits.append((name, numpy.mean([p["setting"] + p["off_s"] / worth for p in told]), ground_g / 1000))
    found["ground/value"] = ground_g / 1000
    if suits:
        found |= {"suits_now/value": suits[-1][1], "suits_then/value": suits[0][1]}
    if len(suits) >= 8 and suits[-1][2] - suits[0][2] >= 10:
        found |= _line("wear", [kg for _, _, kg in suits], [setting for _, setting, _ in suits], 100)
    bags = [name for name, day in days.items()
            if any(note["what"] == "beans" and note["facts"].get("coffee") == pair[1] for note in day["Noted"])]
    found |= {"bags/value": len(bags)} if bags else {}
    found |= _aging(bags, suits) | _room(pair, days, worth, (high - low) / 2 / Z)
    if every:
        for week, of_it in _weeks({name: day for name, day in days.items() if any(_of(pair, [*day["pulls"], *day[kind]]) for kind in (
                "GroundsPurged", "NotchMoved", "FlagRaised"))}).items():
            found |= {f"{week}_{key}": value for key, value in _week_of(pair, of_it, worth).items()}
    return found


def _week_of(pair, days, worth):
    pulls = [p for day in days for p in _of(pair, day["pulls"])]
    moves = [move for day in days for move in _of(pair, day["NotchMoved"])]
    found = {"pulls/value": len(pulls), "moves/value": len(moves),
             "flags/value": sum(len(_of(pair, day["FlagRaised"])) for day in days)}
    good, judged = _judged(pulls)
    found |= share("window", good, judged) if judged else {}
    settings = [p["setting"] for p in pulls if p["told"]]
    for day in days:
        own, turned = _of(pair, day["pulls"]), sorted(_of(pair, day["NotchMoved"]), key=lambda move: move["when"])
        ends = [*(move["before"] for move in turned[:1]), *(p["setting"] for p in own), *(move["after"] for move in turned[-1:])]
        settings += [ends[0], ends[-1]] if ends else []
    found |= {"low/value": min(settings), "high/value": max(settings)} if settings else {}
    told = [p for p in pulls if p["told"]]
    if told:
        found |= {"suits/value": numpy.mean([p["setting"] + p["off_s"] / worth for p in told]),
                  "off/value": numpy.mean([p["off_s"] for p in told])}
    return found


def _line(key, x, y, times=1.0):
    """scipy's slope; its interval wider where residuals resemble the one before, as a short series shows less of it than is."""
    x, y, n = numpy.array(x), numpy.array(y), len(x)
    fit = stats.linregress(x, y)
    rest = y - fit.intercept - fit.slope * x
    alike = (rest[:-1] @ rest[1:]) / (rest @ rest) if rest @ rest else 0.0
    alike = min(0.9, max(0.0, alike + (1 + 3 * max(alike, 0.0)) / n))
    wider = (1 + alike) / (1 - alike)
    reach = stats.t.ppf(0.975, max(1, int(max(2.0, n / wider - 2)))) * fit.stderr * numpy.sqrt(wider)
    return within(key, times * fit.slope, times * (fit.slope - reach), times * (fit.slope + reach))


def _aging(bags, suits):
    """One slope over the days of every bag that lasted, with a level for each (statsmodels); wider where residuals resemble."""
    lasted = [[(date.fromisoformat(name).toordinal(), setting) for name, setting, _ in suits if first <= name < then]
              for first, then in zip(bags, [*bags[1:], "9999"])]
    lasted = [each for each in lasted if len(each) >= 2]
    if len(lasted) < 3:
        return {}
    points = [(n, *point) for n, each in enumerate(lasted) for point in each]
    design = numpy.column_stack([[day for _, day, _ in points], *[[float(n == k) for n, _, _ in points] for k in range(len(lasted))]])
    design[:, 0] -= design[:, 0].mean()
    fit = sm.OLS([setting for *_, setting in points], design).fit()
    rest = fit.resid
    alike = min(0.9, max(0.0, (rest[:-1] @ rest[1:]) / (rest @ rest)))
    wider = (1 + alike) / (1 - alike) if alike > 2 / numpy.sqrt(len(points)) else 1.0
    reach = stats.t.ppf(0.975, fit.df_resid) * fit.bse[0] * numpy.sqrt(wider)
    return within("aging", fit.params[0], fit.params[0] - reach, fit.params[0] + reach)


def _room(pair, days, worth, worth_sd):
    """Notches wanted at each reading of the room on °C, %, the hour and a level for each day (statsmodels); that the worth of a
    notch is uncertain widens it by the delta method."""
    rows = []
    for name, day in days.items():
        near = []
        told = [p for p in _of(pair, day["pulls"]) if p["told"]]
        for note in (note for note in day["Noted"] if note["what"] == "room"):
            beside = [p for p in told if abs(p["when"] - note["when"]) <= timedelta(hours=1)]
            facts = note["facts"]
            if len(beside) >= 3 and None not in (facts.get("temperature_c"), facts.get("humidity_percent")):
                off = numpy.mean([p["off_s"] for p in beside]) / worth
                near.append((name, facts["temperature_c"], facts["humidity_percent"], (note["when"].hour - 4) % 24 + note["when"].minute / 60,
                             numpy.mean([p["setting"] for p in beside]) + off, off))
        rows += near if len(near) > 1 else []
    levels = sorted({row[0] for row in rows})
    if len(rows) - len(levels) - 3 < 5:
        return {}
    design = numpy.column_stack([[row[k] for row in rows] for k in (1, 2, 3)]
                                + [[float(row[0] == name) for row in rows] for name in levels])
    if numpy.linalg.matrix_rank(design) < design.shape[1]:
        return {}
    wanted, told = (sm.OLS([row[k] for row in rows], design).fit() for k in (4, 5))
    found = {}
    for n, (name, times) in enumerate((("temperature", 1), ("humidity", 10))):
        value, by_off = wanted.params[n], told.params[n]
        reach = numpy.hypot(stats.t.ppf(0.975, wanted.df_resid) * wanted.bse[n], by_off * Z * worth_sd / worth)
        found |= within(name, times * value, times * (value - reach), times * (value + reach))
    return found


def _weeks(days):
    weeks = defaultdict(list)
    for name, day in days.items():
        year, number, _ = date.fromisoformat(name).isocalendar()
        weeks[f"{year}-W{number:02}"].append(day)
    return weeks


def _by_week(days, every, price_per_kg):
    weeks, found, lost = _weeks(days), {}, []
    judged = {}
    for name, of_it in weeks.items():
        pulls = [p for day in of_it for p in day["pulls"]]
        grams = by_causes(pulls, [each for day in of_it for each in day["GroundsPurged"]], None)
        judged[name] = _judged(pulls)
        lost.append(grams.get("all_g/value", 0.0))
        found |= {f"{name}_pulls/value": len(pulls), f"{name}_waste/value": lost[-1],
                  f"{name}_moves/value": sum(len(day["NotchMoved"]) for day in of_it), **share(f"{name}_window", *judged[name])}
        found |= {f"{name}_money/value": lost[-1] / 1000 * price_per_kg} if price_per_kg else {}
        if every:
            found |= {f"{name}_{why}/value": grams.get(f"{why}_g/value", 0.0) for why in ("purge", "sink", "overdose", "tasted")}
    if not every:
        found = {key: value for key, value in found.items() if key.split("_")[0] in list(weeks)[-8:]}
    if len(judged) > 1:
        before, after = list(judged.values())[-2:]
        low, high = confint_proportions_2indep(*after, *before, method="agresti-caffo")
        found |= within("share_change", 100 * (after[0] / after[1] - before[0] / before[1]), 100 * low, 100 * high)
    whole = lost[1:-1]
    return found | (_line("waste_trend", range(len(whole)), whole) if len(whole) >= 6 else {})
