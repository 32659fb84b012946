"""The evening's figures once more, from the book's export alone, with numpy, scipy and statsmodels: none of the
kiosk's code.

`pulls.csv` gives the pulls as corrected; `records.jsonl` what is not a pull. Keys are those of the page's data-key.
"""

import csv
import json
from collections import defaultdict
from datetime import datetime, timedelta

import numpy
from scipy import stats
from statsmodels.stats.proportion import proportions_ztest

DOSE_POWER, FIRST_DROP_SHARE = 1.6, 0.16        # of the even time, as its docstring gives them
CLOSING, EARLY_BY_S = 12, 0.3


def exported(pulls_csv, records_jsonl):
    """The pulls of an export in their order, and its other records that happened, by kind."""
    with open(pulls_csv, encoding="utf-8", newline="") as file:
        pulls = [_read(cells) for cells in csv.DictReader(file) if cells["practice"] != "true"]
    pulls.sort(key=lambda pull: pull["when"])
    with open(records_jsonl, encoding="utf-8") as file:
        records = [json.loads(line) for line in file]
    kinds = defaultdict(list)
    void = {each["of"] for each in records if each["kind"] == "Corrected" and each["void"]}
    for each in records:
        if each["id"] not in void:
            kinds[each["kind"]].append(each | {"when": datetime.fromisoformat(each["at"])})
    return pulls, kinds


def again(pulls_csv, records_jsonl, price_per_kg, worths=None):
    """{key: value} of every number on the page of the exported span, be it a service day or several. `worths` are what a notch
    was worth in the weeks before, as (value, low, high) by grinder and coffee."""
    pulls, kinds = exported(pulls_csv, records_jsonl)
    found, rest = {}, {}
    pairs = sorted({(p["grinder"], p["coffee"]) for p in pulls} | {(e["grinder"], e["coffee"])
                                                                   for e in kinds["GroundsPurged"]})
    for grinder, coffee in pairs:
        own = [p for p in pulls if (p["grinder"], p["coffee"]) == (grinder, coffee)]
        moves = sorted((m for m in kinds["NotchMoved"] if (m["grinder"], m["coffee"]) == (grinder, coffee)),
                       key=lambda m: m["when"])
        name = f"{grinder}, {coffee}"
        found |= {f"{name}/{key}": value for key, value in _grinder(own, moves, rest, (worths or {}).get((grinder, coffee))).items()}
    found |= {f"Team/{key}": value for key, value in _people(pulls, rest).items()}
    found |= {f"Team/{key}": value for key, value in _practice(pulls).items()}
    found |= {f"Waste/{key}": value for key, value in by_causes(pulls, kinds["GroundsPurged"], price_per_kg).items()}
    found |= {f"Service/{key}": value for key, value in _service(pulls, kinds).items()}
    return found


def _read(cells):
    number = {name: float(cells[name]) if cells[name] else None
              for name in ("dose_g", "yield_g", "time_s", "first_drop_s")}
    pull = {**cells, **number, "when": datetime.fromisoformat(cells["at"]), "setting": int(cells["setting"])}
    for name in ("target_dose_g", "target_yield_g", "target_time_s", "yield_low_g", "yield_high_g", "time_low_s",
                 "time_high_s", "dose_within_g"):
        pull[name] = float(cells[name])
    pull["even_s"] = _even(pull)
    pull["off_s"] = None if pull["even_s"] is None else pull["even_s"] - pull["target_time_s"]
    pull["told"] = pull["off_s"] is not None and _tells(pull)
    return pull


def _even(p):
    if not p["time_s"]:
        return None
    time_s = p["time_s"]
    if p["yield_g"] is not None:
        share = p["yield_g"] / p["target_yield_g"]
        if not 0.5 <= share <= 2:
            return None
        drop = p["first_drop_s"]
        drop = FIRST_DROP_SHARE * time_s if drop is None or not 0 < drop < time_s else drop
        time_s = drop + (time_s - drop) / share
    if p["dose_g"] is not None:
        time_s -= DOSE_POWER * p["target_time_s"] * (p["dose_g"] / p["target_dose_g"] - 1)
    return time_s


def _tells(p):
    if not p["sink"]:
        return True
    words = p["sink"].lower()
    grinders_own = "gush" in words or "chok" in words
    return grinders_own and p["dose_g"] is not None and abs(p["dose_g"] - p["target_dose_g"]) <= p["dose_within_g"]


def _early(p):
    """A first drop well before its window, from a group that was purged."""
    return p["first_drop_s"] is not None and p["purged"] != "false" and \
        p["first_drop_s"] < float(p["target_first_drop_from_s"]) - EARLY_BY_S


def right(p):
    """Served and timed: whether within both windows; None where it is not judged."""
    if p["sink"] or p["time_s"] is None:
        return None
    fits = p["time_low_s"] - 1e-6 <= p["time_s"] <= p["time_high_s"] + 1e-6
    return fits and (p["yield_g"] is None or p["yield_low_g"] - 1e-6 <= p["yield_g"] <= p["yield_high_g"] + 1e-6)


def _grinder(own, moves, rest, before):
    if not own:
        return {"pulls/value": 0} | ({} if before is None else within("worth", *before))
    found = {"pulls/value": len(own)}
    judged = [right(p) for p in own if right(p) is not None]
    if judged:
        found |= share("in_window", sum(judged), len(judged))
    dosed = [p for p in own if p["dose_g"] is not None]
    if dosed:
        found |= share("doses_off", sum(abs(p["dose_g"] - p["target_dose_g"]) > p["dose_within_g"] + 1e-6
                                         for p in dosed), len(dosed))
    runs = setting_runs(own, moves)
    told = [[p for p in each if p["told"]] for each in runs]
    for n, (each, of) in enumerate(zip(runs, told), 1):
        found[f"stretch_{n}_pulls/value"] = len(each)
        if of:
            found[f"stretch_{n}_even/value"] = numpy.mean([p["even_s"] for p in of])
        if len(of) > 1:
            found[f"stretch_{n}_spread/value"] = numpy.std([p["even_s"] for p in of], ddof=1)
        x = _hours_since(of, own[0])
        if len(of) >= 5 and max(x) - min(x) >= 0.5:
            found |= _sloped(f"stretch_{n}_drift", x, [(0, p) for p in of])
    found |= _drift(own, told, rest, before)
    left = moves[-1]["after"] if moves else runs[-1][0]["setting"]
    found["start/value"] = left + _turn(own, told, runs, left)
    for hour, in_it in _by_hour(own).items():
        verdicts = [right(p) for p in in_it if right(p) is not None]
        if verdicts:
            found |= share(f"hour_{hour}", sum(verdicts), len(verdicts))
    return found


def _turn(own, told, runs, left):
    """Notches to open with, from where the collar was left: as the first pulls would have it, else the last."""
    last_day = [p for p in own if p["told"] and p["day"] == runs[-1][0]["day"]]
    first = [p for p, x in zip(last_day, _hours_since(last_day, last_day[0])) if x <= 1] if last_day else []
    first = first if len(first) >= 4 else last_day[:4]
    first = _not_early(first)[:CLOSING]
    if len(first) >= 4:
        notches = numpy.mean([p["setting"] + p["off_s"] / 2 - left for p in first])
        return int(numpy.sign(notches)) if abs(notches) >= 1 else 0
    last = [p["off_s"] for p in _not_early(told[-1])][-CLOSING:]
    if runs[-1][0]["setting"] != left or len(last) < 4:
        return 0
    mean, reach = numpy.mean(last), stats.t.ppf(0.975, len(last) - 1) * stats.sem(last)
    return int(numpy.sign(mean)) if abs(mean) > reach and abs(mean) >= 1.5 else 0


def _not_early(pulls):
    even = [p for p in pulls if not _early(p)]
    return even if 2 * len(even) > len(pulls) else pulls


def _sloped(key, x, points):
    """Least squares with a level for each setting run, each person and the smaller basket; wider where residuals resemble
    the one before (two standard errors of it or more). Nothing where hands and hours cannot be told apart."""
    levels = [[float(n == k) for n, _ in points] for k in sorted({n for n, _ in points})]
    levels += [[float(p["barista"] == who) for _, p in points] for who in sorted({p["barista"] for _, p in points} - {""})]
    levels += [[float(p["basket"] == "single") for _, p in points]]
    design = numpy.column_stack([x, *levels])
    rank = numpy.linalg.matrix_rank(design)
    if rank == numpy.linalg.matrix_rank(design[:, 1:]) or len(points) <= rank:
        return {}
    inverse = numpy.linalg.pinv(design)
    y = numpy.array([p["off_s"] for _, p in points])
    resid = y - design @ (inverse @ y)
    slope, squares = inverse[0] @ y, resid @ resid
    alike = min(0.9, max(0.0, resid[:-1] @ resid[1:] / squares))
    wider = (1 + alike) / (1 - alike) if alike > 2 / numpy.sqrt(len(points)) else 1.0
    freedom = len(points) - rank
    reach = stats.t.ppf(0.975, freedom) * numpy.sqrt(squares / freedom * (inverse[0] @ inverse[0]) * wider)
    return within(key, slope, slope - reach, slope + reach)


def _drift(own, told, rest, before):
    """One slope for all setting runs by least squares with a level for each; what is left of each pull goes into
    `rest`."""
    fitted = [each for each in told if len(each) >= 2]
    points = [(n, p) for n, each in enumerate(fitted) for p in each]
    spans = sum(max(x) - min(x) for x in (_hours_since(each, own[0]) for each in fitted))
    if len(points) < 5 or spans < 0.5 or len(points) - len(fitted) < 2:
        for each in fitted:
            mean = numpy.mean([p["off_s"] for p in each])
            rest.update({p["id"]: p["off_s"] - mean for p in each})
        return {} if before is None else within("worth", *before)
    x = numpy.array(_hours_since([p for _, p in points], own[0]))
    design = numpy.column_stack([x, *[[float(n == k) for n, _ in points] for k in range(len(fitted))]])
    found = _sloped("drift", x, points)
    slope = found.get("drift/value", 0.0)
    low, high = found.get("drift/low"), found.get("drift/high")
    for each in fitted:
        left = numpy.array([p["off_s"] for p in each]) - slope * numpy.array(_hours_since(each, own[0]))
        rest.update({p["id"]: value for p, value in zip(each, left - left.mean())})
    of_slope = numpy.linalg.pinv(design)[0]         # the slope is this times the seconds off
    z, both, mine = stats.norm.ppf(0.975), 0.0, own_worth([each for each in told if each])
    if mine is None and before is None:
        return found
    if mine is None:
        worth, worth_low, worth_high = before
    else:
        value, own_sd, variance, of_worth, _ = mine
        told_slope = dict(zip([p["id"] for _, p in points], of_slope))
        of_slope = numpy.array([told_slope.get(p["id"], 0.0) for each in told for p in each])
        usual, usual_sd = (2, 1) if before is None else (before[0], (before[2] - before[1]) / 2 / z)    # 2 ± 1 s
        share = (1 / own_sd ** 2) / (1 / own_sd ** 2 + 1 / usual_sd ** 2)
        worth, reach = share * value + (1 - share) * usual, z / numpy.sqrt(1 / own_sd ** 2 + 1 / usual_sd ** 2)
        worth_low, worth_high, both = worth - reach, worth + reach, share * variance * of_worth @ of_slope
    found |= within("worth", worth, max(0.0, worth_low), worth_high)
    if low is None:
        return found
    # Fieller: the ratios r for which drift − r · worth does not differ from nothing
    drift_sd, worth_sd = (high - low) / 2 / z, (worth_high - worth_low) / 2 / z
    ends = numpy.roots([worth ** 2 - (z * worth_sd) ** 2, -2 * (slope * worth - z ** 2 * both),
                        slope ** 2 - (z * drift_sd) ** 2])
    if worth > z * worth_sd and numpy.isreal(ends).all():
        found |= within("moving", slope / worth, min(ends.real), max(ends.real))
    return found


def own_worth(told):
    """What these runs alone say of a notch: (seconds, standard error made of the interval by Student's t, variance of a pull,
    the weight of each pull, standard error); None where no turn has three pulls on both sides."""
    moved = [a[0]["setting"] != b[0]["setting"] and a[0]["day"] == b[0]["day"] for a, b in zip(told, told[1:])]
    if not any(move and min(len(a), len(b)) >= 3 for move, a, b in zip(moved, told, told[1:])):
        return None
    of_worth, squares, freedom, apart = _worth_weights(told, moved)
    variance = squares / freedom
    sd = numpy.sqrt(variance * apart)
    return of_worth @ _held(told), stats.t.ppf(0.975, freedom) * sd / stats.norm.ppf(0.975), variance, of_worth, sd


def _worth_weights(told, moved):
    """Generalised least squares for what a notch is worth: (weight of each pull's seconds, weighted squares that are left,
    degrees of freedom, variance in those of a pull). A level for each run of turns, whatever a person and the smaller
    basket lean (0.6 spreads), and a pace that fades within 0.7 h and comes anew (0.5 spreads an hour; 3 at opening)."""
    pulls, turns = [p for each in told for p in each], numpy.cumsum([0, *[not move for move in moved]])
    run = numpy.repeat(turns, [len(each) for each in told])
    fixed = numpy.column_stack([[told[0][0]["setting"] - p["setting"] for p in pulls],
                                *[run == each for each in sorted(set(run))]]).astype(float)
    traits = [[p["barista"] == who for p in pulls] for who in sorted({p["barista"] for p in pulls} - {""})]
    traits += [[p["basket"] == "single" for p in pulls]]
    lean = numpy.array(traits, dtype=float)
    hours = numpy.array(_hours_since(pulls, pulls[0]))
    went = numpy.zeros((len(pulls), len(pulls)))            # of each pull's level, what each shock of the pace did
    for n in range(len(pulls)):
        if n == 0 or run[n] != run[n - 1]:
            pace = numpy.zeros(len(pulls))
            pace[n] = 3
            continue
        left = numpy.exp(-(hours[n] - hours[n - 1]) / 0.7)
        went[n], pace = went[n - 1] + 0.7 * (1 - left) * pace, left * pace
        pace[n] = 0.5 * numpy.sqrt(1 - left ** 2)
    sure = numpy.linalg.inv(numpy.eye(len(pulls)) + 0.6 ** 2 * lean.T @ lean + went @ went.T)
    spread = numpy.linalg.inv(fixed.T @ sure @ fixed)
    weights = spread @ fixed.T @ sure
    y = _held(told)
    rest = y - fixed @ (weights @ y)
    return weights[0], rest @ sure @ rest, len(pulls) - fixed.shape[1], spread[0, 0]


def _held(told):
    """Seconds off, none further than 2.5 spreads from the median of the six on each side in its setting run; the spread is
    the median deviation's, as of a normal law."""
    offs = [numpy.array([p["off_s"] for p in each]) for each in told]
    middles = numpy.concatenate([[numpy.median(each[max(0, n - 6):n + 7]) for n in range(len(each))] for each in offs])
    y = numpy.concatenate(offs)
    most = 2.5 * numpy.median(abs(y - middles)) / stats.norm.ppf(0.75)
    return numpy.clip(y, middles - most, middles + most)


def setting_runs(own, moves):
    """A pull belongs to its day, and to the last turn of the collar that left it at its setting: one already running
    keeps the old one."""
    turns = [(datetime.min.replace(tzinfo=own[0]["when"].tzinfo), moves[0]["before"] if moves else own[0]["setting"])]
    turns += [(move["when"], move["after"]) for move in moves]
    by_turn = defaultdict(list)
    for p in own:
        mine = [n for n, (when, setting) in enumerate(turns) if when <= p["when"] and setting == p["setting"]]
        by_turn[p["day"], mine[-1]].append(p)
    return [by_turn[n] for n in sorted(by_turn)]


def _people(pulls, rest):
    found = {}
    for name in sorted({p["barista"] for p in pulls if p["barista"]}):
        own = [p for p in pulls if p["barista"] == name]
        found[f"{name}_pulls/value"] = len(own)
        doses = [p["dose_g"] - p["target_dose_g"] for p in own if p["dose_g"] is not None]
        times = [rest[p["id"]] for p in own if p["id"] in rest]
        if len(doses) >= 5:
            found[f"{name}_dose/value"] = numpy.std(doses, ddof=1)
        if len(times) >= 5:
            found[f"{name}_time/value"] = numpy.std(times, ddof=1)
            lean, reach = numpy.mean(times), stats.t.ppf(0.975, len(times) - 1) * stats.sem(times)
            found |= within(f"{name}_lean", lean, lean - reach, lean + reach)
        seen = [p for p in own if p["told"] and p["first_drop_s"] is not None and p["purged"] != "false"]
        found |= share(f"{name}_early", sum(map(_early, seen)), len(seen)) if seen else {}
        found |= share(f"{name}_skipped", sum(bool(p["skipped"].strip("'")) for p in own), len(own))
    return found


def _practice(pulls):
    """Who stands out most by a fault, in pulls that would be saved: (n, of); the two shares are compared by statsmodels' score
    test of pooled variance, one side at two standard errors."""
    of = {"tamp": (lambda p: p["told"] and p["first_drop_s"] is not None and p["purged"] != "false", _early),
          "dose": (lambda p: p["dose_g"] is not None, lambda p: abs(p["dose_g"] - p["target_dose_g"]) > p["dose_within_g"] + 1e-6),
          "steps": (lambda p: True, lambda p: bool(p["skipped"].strip("'")))}
    found = []
    for counted, has_it in of.values():
        for name in sorted({p["barista"] for p in pulls if p["barista"]}):
            mine, others = ([bool(has_it(p)) for p in pulls if p["barista"] and counted(p) and (p["barista"] == name) is own]
                            for own in (True, False))
            if min(len(mine), len(others)) < 20 or not any(mine):
                continue
            z, _ = proportions_ztest([sum(mine), sum(others)], [len(mine), len(others)])
            found.append((sum(mine) - len(mine) * numpy.mean(others), z > 2, sum(mine), len(mine)))
    found = max((each for each in found if each[0] >= 3 and each[1]), default=None)
    return share("practice", found[2], found[3]) if found else {}


def by_causes(pulls, purges, price_per_kg):
    sink, tasted = ([p["dose_g"] if p["dose_g"] is not None else p["target_dose_g"] for p in pulls
                     if p["sink"] and ("tasted" in p["sink"] and not p["order_id"]) is for_tasting] for for_tasting in (False, True))
    over = [p["dose_g"] - p["target_dose_g"] - p["dose_within_g"] for p in pulls if not p["sink"]
            and p["dose_g"] is not None]
    grams = {"purge": [each["grams"] for each in purges], "sink": sink, "overdose": [g for g in over if g > 1e-6]}
    sums = {why: sum(each) for why, each in grams.items() if each}
    sums |= {"all": sum(sums.values())} if sums else {}
    sums |= {"tasted": sum(tasted)} if tasted else {}
    by_coffee = defaultdict(float)
    for each in purges:
        by_coffee[each["coffee"]] += each["grams"]
    for p in pulls:
        if p["sink"] and ("tasted" not in p["sink"] or p["order_id"]):
            by_coffee[p["coffee"]] += p["dose_g"] if p["dose_g"] is not None else p["target_dose_g"]
        elif not p["sink"] and p["dose_g"] is not None and p["dose_g"] - p["target_dose_g"] - p["dose_within_g"] > 1e-6:
            by_coffee[p["coffee"]] += p["dose_g"] - p["target_dose_g"] - p["dose_within_g"]
    sums |= {f"coffee_{coffee}": grams for coffee, grams in by_coffee.items()} if len(by_coffee) > 1 else {}
    money = {f"{why}_money/value": g / 1000 * price_per_kg for why, g in sums.items()} if price_per_kg else {}
    return {f"{why}_g/value": g for why, g in sums.items()} | money


def _service(pulls, kinds):
    taken = {each["id"]: each["when"] for each in kinds["OrderTaken"]}
    how = [each["how"] for each in kinds["OrderEnded"]]
    found = {}
    if taken or how:
        found = {"orders/value": len(taken), "served/value": how.count("served"),
                 "cancelled/value": how.count("cancelled")}
    if pulls:
        found["pulls/value"] = len(pulls)
    judged = [right(p) for p in pulls if right(p) is not None]
    found |= share("in_window", sum(judged), len(judged)) if judged else {}
    waits = [(each["when"] - taken[each["order_id"]]).total_seconds() for each in kinds["OrderEnded"]
             if each["how"] == "served" and each["order_id"] in taken]
    made = [sum(float(step.split("=")[1]) for step in p["step_s"].split("; ")) for p in pulls if p["step_s"]
            and not p["sink"]]
    for key, seconds in (("wait", waits), ("make", made)):
        if seconds:
            found |= {f"{key}_median/value": numpy.median(seconds),
                      f"{key}_nine/value": numpy.quantile(seconds, 0.9, method="inverted_cdf")}
    if pulls:
        found["busiest/value"] = max(len(in_it) for in_it in _by_hour(pulls).values())
    for group in sorted({p["group"] for p in pulls}):
        found[f"lane_{group}/value"] = sum(p["group"] == group for p in pulls)
    for name in ("dose", "yield", "time"):
        missing = sum(p[f"{name}_{'s' if name == 'time' else 'g'}"] is None for p in pulls)
        if missing:
            found |= share(f"no_{name}", missing, len(pulls))
    return found


def _by_hour(pulls):
    hours = defaultdict(list)
    several = len({p["day"] for p in pulls}) > 1
    for p in pulls:
        hours[(p["at"][11:13], "") if several else (p["at"][:13], p["at"][-6:])].append(p)
    twice = {hour for hour, _ in hours if len([1 for other, _ in hours if other == hour]) > 1}
    return {f"{hour[-2:]} ({zone})" if hour in twice else hour[-2:]: each for (hour, zone), each in hours.items()}


def _hours_since(pulls, first):
    return [(p["when"] - first["when"]) / timedelta(hours=1) for p in pulls]


def share(key, value, of):
    return {f"{key}/value": value, f"{key}/of": of} | ({f"{key}/percent": 100 * value / of} if of else {})


def within(key, value, low, high):
    return {f"{key}/value": value, f"{key}/low": low, f"{key}/high": high}
