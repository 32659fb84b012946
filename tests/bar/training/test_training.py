"""A new hire's record, the rule by which their help fades, and the trainer's word above it."""

from dataclasses import replace
from datetime import datetime, timedelta, timezone
from statistics import pstdev

import pytest

from kiosk.bar.model import EVERY_STEP, Corrected, Noted, Pull, usual
from kiosk.bar.model.lessons import Lesson
from kiosk.bar.training import STEADY_PULLS, Brief, Cause, answers, brief, deck, steadiness, training
from kiosk.book import Book
from kiosk.page import certificate
from kiosk.practice.practice_bar import Practising
from kiosk.screens.setup.settings import SettingRow, sections
from kiosk.screens.ui import words
from kiosk.screens.ui.touch import Words
from kiosk.station.clock import Clock
from kiosk.station.station import Station
from kiosk.station.teaching import training_of
from tests.bench import fading
from tests.support import tour
from tests.support.at_work import AtWork
from tests.support.hires_rooms import hires_rooms
from tests.support.longer import Longer

STAFF = {"Ines": {}, "Tomo": {"new": True}}


def pull(n=0, dose_g=16.0, skipped=(), steps=(("warm", 10.0),), by="Tomo", time_s=25.0, yield_g=None):
    return Pull(id=f"p{n:03}", at="2026-10-23T10:00:00+02:00", grinder="Left", coffee="House", setting=20, barista=by,
                recipe=usual("House", "double"), dose_g=dose_g, skipped=skipped, step_s=steps, time_s=time_s, yield_g=yield_g)


def noted(what, n=0, by="Tomo", **facts):
    return Noted(id=f"n{n:03}", at="2026-10-23T11:00:00+02:00", what=what, facts=facts, by=by)


# ---- the record ----------------------------------------------------------------------------------------------------

def test_the_record_counts_a_hires_own_pulls_only():
    found = training("Tomo", [pull(1), pull(2, by="Ines"), pull(3, time_s=None)], [])
    assert (found.pulls, found.doses, found.doses_right) == (1, 1, 1)


def test_doses_are_judged_by_the_recipe_and_spread_about_it():
    doses = [16.0, 16.3, 15.5, 17.0]
    found = training("Tomo", [pull(n, dose_g=g) for n, g in enumerate(doses)] + [pull(9, dose_g=None)], [])
    assert (found.pulls, found.doses, found.doses_right) == (5, 4, 3)
    assert found.dose_sd_g == pytest.approx(pstdev(doses, mu=16.0))
    assert training("Tomo", [pull(1)], []).dose_sd_g is None


def test_skipped_steps_are_counted_in_the_order_of_the_work():
    found = training("Tomo", [pull(1, skipped=("purge", "rim")), pull(2, skipped=("rim",))], [])
    assert found.skipped == (("rim", 2), ("purge", 1))


def test_seconds_a_step_are_those_of_the_first_pulls_and_of_the_latest():
    slow, quick = (("warm", 12.0), ("dose", 30.0), ("warm", 8.0)), (("warm", 9.0), ("dose", 14.0))
    found = training("Tomo", [pull(n, steps=slow if n < 12 else quick) for n in range(30)], [])
    seconds = {each.step: (each.first_s, each.latest_s) for each in found.step_s}
    assert seconds == {"warm": (20.0, 9.0), "dose": (30.0, 14.0)}


def test_lessons_and_the_sign_off_are_read_from_what_was_noted():
    notes = [noted("practice", 1, cause="soft", named="soft"), noted("practice", 2, cause="over", named="fine"),
             noted("practice", 3, by="Ines", cause="fine", named="fine"), noted("signed off", 4, by="Ada", who="Tomo"),
             noted("signed off", 5, by="Ines", who="Tomo"), noted("signed off", 6, by="Ada", who="Mila"),
             noted("beans", 7)]
    found = training("Tomo", [], notes)
    assert (found.score.told, found.score.lessons) == (1, 2)
    assert found.signed.by == "Ines"
    assert training("Ines", [], notes).signed is None
    assert answers(notes, "Ines") == (("fine", "fine"),)


def test_a_certificate_written_after_midnight_has_one_day_throughout():
    notes = [replace(note, at="2026-10-24T00:30:00+02:00") for note in (
        noted("step shown", 1, by="Ines", who="Tomo", step="tamp"), noted("signed off", 2, by="Ines", who="Tomo"),
        noted("lesson done", 3, lesson="Grind", right=3, of=4, by_eye=0))]
    written = certificate(training("Tomo", [pull(1)], notes), "2026-10-23")
    assert written.count("2026-10-23") == 5 and "2026-10-24" not in written


# ---- the rule ------------------------------------------------------------------------------------------------------

def steady(**changes):
    briefs = [Brief(pull_id=str(n), skipped=0, dose_right=True, in_window=True, hasty=False) for n in range(10)]
    for n, change in changes.items():
        briefs[int(n[1:])] = replace(briefs[int(n[1:])], **change)
    return briefs


def test_help_fades_after_twenty_pulls_with_the_last_ten_clean_and_dosed_right():
    assert steadiness(STEADY_PULLS, steady()).holds
    assert not steadiness(STEADY_PULLS - 1, steady()).holds
    assert not steadiness(STEADY_PULLS, steady(p3={"skipped": 1})).holds
    assert steadiness(STEADY_PULLS, steady(p3={"dose_right": False})).holds
    assert not steadiness(STEADY_PULLS, steady(p3={"dose_right": False}, p4={"dose_right": False})).holds


def test_a_slip_of_long_ago_is_forgotten_and_doses_nobody_weighed_are_not_held_against_a_hire():
    long_ago = [Brief(pull_id="old", skipped=3, dose_right=False, in_window=False, hasty=True)]
    assert steadiness(STEADY_PULLS, long_ago + steady()).holds
    assert steadiness(STEADY_PULLS, [brief(pull(n, dose_g=None)) for n in range(10)]).holds


def test_pulls_rushed_through_or_far_off_never_fade_the_help():
    """Twenty pulls of 5.6 s, nothing weighed, 0.6 s a step."""
    rushed = [brief(pull(n, time_s=5.6, yield_g=None, dose_g=None, steps=tuple((str(step), 0.6) for step in EVERY_STEP)))
              for n in range(40)]
    assert not steadiness(40, rushed).holds
    in_time = [brief(pull(n, time_s=25.0, yield_g=None, dose_g=None, steps=tuple((str(step), 0.6) for step in EVERY_STEP)))
               for n in range(40)]
    assert not steadiness(40, in_time).holds
    off = [replace(each, in_window=False) for each in steady()]
    assert not steadiness(STEADY_PULLS, off).holds


def test_a_steady_hire_fades_between_fifteen_and_forty_pulls_and_nonsense_never():
    for seed in range(20):
        assert 15 <= fading.fades_after(fading.steady, seed, 60) <= 40, seed
        for name, hire in fading.NONSENSE.items():
            assert fading.fades_after(hire, seed, 60) is None, name


# ---- at the station ------------------------------------------------------------------------------------------------

class FakeStation:
    """A service over a book in `folder`, with pulls that are simply said to have been made."""

    def __init__(self, folder):
        self.now = datetime(2026, 10, 23, 10, tzinfo=timezone(timedelta(hours=2)))
        self.book = Book.open(folder, now=lambda: self.now)
        self.service = Station.open(self.book, Clock(monotonic=lambda: 0.0, wall=lambda: self.now))
        self.service.set_setting(("staff",), STAFF)
        self.teaching = self.service.teaching

    def full(self, name="Tomo"):
        return self.teaching.every_step(self.service.setup.person(name))

    def made(self, count, first=0, **about):
        for n in range(first, first + count):
            made = pull(n, **about)
            self.book.keep(made)
            self.teaching.pulled(made)


@pytest.fixture
def station(tmp_path):
    found = FakeStation(tmp_path)
    yield found
    found.book.close()


def test_a_new_hire_sees_every_step_until_steady_and_an_old_hand_five(station):
    assert station.full("Tomo") and not station.full("Ines") and not station.teaching.every_step(None)
    station.made(STEADY_PULLS - 1)
    assert station.full()
    station.made(1, first=50)
    assert not station.full()


def test_the_help_comes_back_with_a_skipped_step(station):
    station.made(STEADY_PULLS)
    station.made(1, first=60, skipped=("rim",))
    assert station.full()


def test_a_pull_taken_back_does_not_count(station):
    station.made(STEADY_PULLS)
    station.teaching.take_back(pull(STEADY_PULLS - 1))
    assert station.full()
    assert station.teaching.steadiness("Tomo").pulls == STEADY_PULLS - 1


def test_the_rule_can_be_overruled_by_hand_either_way(station):
    station.service.set_setting(("staff", "Tomo", "help"), "five")
    station.service.set_setting(("staff", "Ines", "help"), "every")
    assert not station.full("Tomo") and station.full("Ines")
    assert station.service.set_setting(("staff", "Ines", "help"), "ten")[0].startswith("Ines: the steps shown")


def test_a_trainers_sign_off_is_kept_by_name_and_can_be_taken_back(station):
    station.teaching.sign_off("Tomo", "Ines")
    assert not station.full()
    signed, = (each for each in station.book.today().of(Noted) if each.what == "signed off")
    assert (signed.by, signed.facts["who"], signed.facts["pulls"]) == ("Ines", "Tomo", 0)
    station.teaching.undo_sign_off()
    assert station.full()
    assert station.book.find(signed.id) is None
    assert any(each.void for each in station.book.today().raw if isinstance(each, Corrected))


@pytest.mark.parametrize("memory", [True, False], ids=["with its memory", "with its memory lost"])
def test_after_a_restart_a_hire_is_as_steady_as_before(tmp_path, memory):
    before = FakeStation(tmp_path)
    before.made(STEADY_PULLS - 2)
    before.teaching.sign_off("Mila", "Ines")
    before.book.close()
    if not memory:
        for path in (tmp_path / "memory").glob("*.json"):
            path.unlink()
    after = FakeStation(tmp_path)
    assert after.teaching.steadiness("Tomo") == before.teaching.steadiness("Tomo")
    assert after.teaching.signed_by("Mila") == "Ines"
    after.book.close()


# ---- on the screens ------------------------------------------------------------------------------------------------

def practise_pull(work):
    """Pump on, stop at the yield, on the real screen."""
    room = work.kiosk.root.open
    work.tap("Pump on")
    enough_s = room.practice.poured.stop_for(room.practice.recipe.yield_g)
    work.t_s += enough_s / 3                    # practice runs three times as fast
    work.frames(2)
    work.tap("Stop")


def lesson(work, cause, *said):
    """One lesson: a pull, and its cause named by two keys."""
    room = work.kiosk.root.open
    room.prepare(cause)
    work.frames(2)
    assert room._values()["dose"] == ""         # what was dosed is not told before the pull
    practise_pull(work)
    work.tap(*said)
    return room


def test_a_hire_practises_is_told_why_and_mends_it(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"staff": STAFF}) as work:
        work.service.choose("Tomo")
        work.kiosk.root.go("who")
        work.frames(2)
        work.finger.tap("Practise")
        work.settle_threads()
        work.kiosk.root.open.practice = Practising(seed=3)      # 3 g over
        room = lesson(work, Cause.OVER, "Grind", "Too fine")
        assert "No. It was: Too much coffee. It looks like that" in room.told and "g was dosed, more than 16.5 g" in room.told
        work.tap("Fix it…", "Dose", "1 g less")
        practise_pull(work)
        assert "Leave it alone" not in room.told        # one gram of three is not enough
        work.tap("Fix it…", "Dose", "2 g less")
        practise_pull(work)
        assert "Leave it alone" in room.told and work.finger.find("Fix it…") is None
        work.tap("Next pull")
        lesson(work, Cause.CROOKED, "Puck", "Crooked tamp")
        assert room.told.startswith("Right: Crooked tamp.") and "right: 1 of 2" in room.title
        room.practice.weighed = False
        lesson(work, Cause.OVER, "Grind", "Too fine")
        assert "only a weighed dose tells" in room.told and room._values()["dose"] == "not weighed"
        kept = [(each.by, each.facts["cause"], each.facts["named"]) for each in work.book.today().of(Noted)]
        assert kept == [("Tomo", "over", "fine"), ("Tomo", "crooked", "crooked"), ("Tomo", "over", "fine")]
        assert work.book.today().of(Pull) == ()


def test_a_blind_test_tells_nothing_until_its_score(tmp_path, monkeypatch):
    monkeypatch.setattr("kiosk.screens.hire.practice.BLIND_TEST", Lesson(name="Blind test", pulls=3, blind=True))
    with AtWork(tmp_path, scale=False, settings={"staff": STAFF}) as work:
        work.service.choose("Tomo")
        work.kiosk.root.go("practice")
        work.settle_threads()
        work.tap("Blind test")
        room = work.kiosk.root.open
        room.practice.weighed = True
        for n in range(3):
            assert f"pull {n + 1} of 3" in room.title and "It was" not in room.told
            room.prepare(Cause.COLD if n < 2 else Cause.OVER)
            practise_pull(work)
            work.tap("Coffee, cup", "Cold cup")
        assert room.told == "Blind test: 2 of 3 right. Missed: Too much coffee."
        assert [note.facts["blind"] for note in work.book.today().of(Noted)] == [True] * 4
        assert work.book.today().of(Noted)[-1].facts["right"] == 2
        work.tap("Next pull")
        assert "blind" not in room.title and work.finger.find("Blind test") is not None


def test_a_trainers_lesson_is_given_pulled_and_kept_on_the_certificate(tmp_path):
    """Put together under Setup, given in the trainer's room, done by the hire at the practice bar, by eye."""
    with AtWork(tmp_path, scale=False, settings={"staff": STAFF}) as work:
        rooms, service = work.kiosk.root, work.service
        service.choose("Tomo")
        rooms.go("trainer")
        work.settle_threads()
        work.tap("Lesson…")
        assert "Setup, Lessons" in rooms.open.rule
        rooms.go("setup")
        setup = rooms.open
        lessons = next(n for n, each in enumerate(sections(service.setup)) if each.name == "Lessons")
        setup.choose(lessons)
        setup.write(SettingRow("", "", write=("lessons", "?")))
        rooms.open.text = "Dose or grind"
        rooms.open.done()

        def row(name):
            return next(each for each in sections(service.setup)[lessons].item("Dose or grind").rows if each.name == name)

        for name, side in (("With: Nothing wrong", "less"), ("With: Too coarse", "less"), ("With: Too much coffee", "more"),
                           ("Pulls", "less"), ("Scale", "less")):
            setup.change(getattr(row(name), side))
        for _ in range(5):
            setup.change(row("Pulls").less)
        given, = service.setup.lessons
        assert (set(given.faults), given.pulls, given.scale) == ({Cause.FINE, Cause.OVER}, 4, "without")
        setup.change(row("With: Too fine").more)
        setup.change(row("With: Too much coffee").more)         # the last fault of a lesson stays, and why is said
        assert service.setup.lessons[0].faults and "needs a fault" in setup.affects
        setup.change(row("With: Too fine").more)
        rooms.go("trainer")
        work.settle_threads()
        work.tap("Lesson…", "Dose or grind")
        work.settle_threads()
        assert "Lesson: Dose or grind." in rooms.open.rule and service.setup.lesson_of("Tomo") == service.setup.lessons[0]
        rooms.go("practice")
        work.settle_threads()
        work.tap("Dose or grind")
        room, hidden = rooms.open, []
        for n in range(4):
            assert f"Dose or grind, pull {n + 1} of 4" in room.title and not room.practice.weighed
            hidden.append(room.cause)
            practise_pull(work)
            work.tap("Grind", "Too fine")
            assert room.told.startswith("Right" if room.cause is Cause.FINE else "No. It was: Too much coffee. By eye it could be that")
            work.tap("Next pull" if n < 3 else "Result")
        assert sorted(hidden) == [Cause.FINE, Cause.FINE, Cause.OVER, Cause.OVER]
        assert room.told.startswith("Dose or grind: 2 of 4 right.") and "Of these, 4 were too fine" in room.told
        done = work.book.today().of(Noted)[-1]
        assert done.by == "Tomo" and (done.facts["right"], done.facts["of"], done.facts["by_eye"]) == (2, 4, 4)
        rooms.go("trainer")
        work.settle_threads()
        assert [(row.what, row.told) for row in rooms.open.ids.told.children][-1] == ("Dose or grind", "2 / 4")
        page = certificate(training_of(work.book, "Tomo"), "2026-03-14")
        assert "Dose or grind" in page and "2 / 4" in page and "4 of them could only be guessed" in page


def test_the_blind_test_is_called_so_in_german(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"language": "de"}) as work:
        work.kiosk.root.go("practice")
        work.settle_threads()
        assert work.finger.find("Blindtest") is not None and work.finger.find("Blind test") is None


def test_a_lessons_faults_come_up_as_often_as_each_other():
    dealt = deck(Lesson(name="Three", faults=("fine", "cold", "none"), pulls=31), 1)
    assert len(dealt) == 31 and all(10 <= dealt.count(cause) <= 11 for cause in (Cause.FINE, Cause.COLD, Cause.NONE))


def test_a_lesson_without_colour_shows_no_paling(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        work.kiosk.root.go("practice")
        work.settle_threads()
        room = work.kiosk.root.open
        pales = []
        for colour in (True, False):
            room._begin(Lesson(name="Colour", faults=("coarse",), colour=colour))
            work.finger.tap("Pump on")
            work.t_s += 12
            work.frames(3)
            pales.append(room.ids.streams.pale)
        assert pales[0] > 0 and pales[1] == 0


def test_a_practice_pump_left_alone_stops_by_itself(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        work.kiosk.root.go("practice")
        work.settle_threads()
        work.finger.tap("Pump on")
        work.t_s += 19
        work.frames(3)
        assert work.finger.find("Stop") is not None
        work.t_s += 1
        work.frames(3)
        assert work.finger.find("Nothing wrong") is not None


def test_a_practice_pull_stopped_before_it_tells_anything_is_pulled_again_and_not_scored(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        work.kiosk.root.go("practice")
        work.settle_threads()
        for _ in range(2):
            work.finger.tap("Pump on")
            work.frames(3)
            work.finger.tap("Stop")
            work.frames(3)
        assert "Pull it again" in work.kiosk.root.open.told and work.finger.find("Pump on") is not None
        assert work.book.today().of(Noted) == ()


def test_a_trainer_signs_a_hire_off_in_two_taps_and_can_take_it_back_in_one(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"staff": STAFF}) as work:
        work.kiosk.root.go("trainer")
        work.settle_threads()
        page = work.kiosk.root.open
        assert page.person == "Tomo" and page.apart == "No practice yet."
        rule, apart = (next(each for each in page.walk() if isinstance(each, Words) and each.text == text) for text in (page.rule, page.apart))
        assert apart.top <= rule.y                              # a record with nothing in it keeps to its place
        taps = work.finger.taps
        work.finger.tap("Sign off")
        work.frames(2)
        work.finger.tap("Ines")
        work.settle_threads()
        assert work.finger.taps - taps == 2
        assert work.service.teaching.signed_by("Tomo") == "Ines"
        assert "signed off by Ines" in work.kiosk.root.open.title
        work.finger.tap("Undo")
        work.settle_threads()
        assert work.service.teaching.signed_by("Tomo") is None
        work.finger.tap("Help: automatic")
        work.frames(2)
        assert work.service.setup.person("Tomo").help == "every"


def test_whoever_is_chosen_is_spoken_to_in_their_own_language(tmp_path):
    staff = {"Ines": {}, "Tomo": {"language": "de"}}
    with AtWork(tmp_path, scale=False, settings={"staff": staff}) as work:
        assert work.finger.find("Order") is not None
        work.finger.tap("Who?")
        work.frames(2)
        work.finger.tap("Tomo")
        work.frames(2)
        assert work.finger.find("Bestellung") is not None and work.finger.find("Order") is None
        work.finger.tap("Tomo")
        work.frames(2)
        work.finger.tap("Ines")
        work.frames(2)
        assert work.finger.find("Order") is not None


@pytest.mark.parametrize(("language", "size"), [("de", (800, 480)), ("longer", (800, 480)), ("longer", (800, 1280))],
                         ids=lambda each: each if isinstance(each, str) else f"{each[0]}x{each[1]}")
def test_nothing_of_the_hires_rooms_is_cut_or_too_small_to_touch(tmp_path, monkeypatch, size, language):
    monkeypatch.setattr(words, "_language", words._language)      # what was spoken before is spoken after
    if language == "longer":
        monkeypatch.setattr("kiosk.screens.ui.rooms.catalogue", lambda _language: Longer())
    settings = {"staff": STAFF, "language": "de" if language == "de" else "en"}
    with AtWork(tmp_path, scale=False, settings=settings, size=size) as work:
        work.service.choose("Tomo")
        work.kiosk.root.home()
        found = []
        for name in hires_rooms(work):
            work._drawn_until = work._frames + 3
            work.frames(3)
            found += [f"{name}: {fault}" for fault in tour.faults(work.kiosk.root)]
        assert not found
