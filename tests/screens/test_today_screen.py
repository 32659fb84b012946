"""The manager's rooms by touch: the summary within three taps and a PIN, every figure down to its pulls and their
curves; notes in two taps; and a PIN that is never in the way of service."""

import errno
import threading
import time

import pytest

from kiosk.bar.model import Corrected, NotchMoved, Noted, Pull, ScaleChecked
from kiosk.bar.model import pin as hashes
from kiosk.screens.ui.touch import Words
from kiosk.station.evenings import evening_of, weeks_of
from tests.support.at_work import AtWork
from tests.support.bar_of_the_book import a_pull
from tests.support.failing_disk import Refusing, refusing

PATIENCE_REAL_S = 20.0


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(hashes, "COST", 2 ** 10)


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        yield work


def shown(work):
    return work.kiosk.root.current


def await_thread(work, holds):
    """A sum or a hash is made beside the screens, on real time."""
    limit = time.monotonic() + PATIENCE_REAL_S
    while not holds():
        assert time.monotonic() < limit, "waited in vain"
        work.frame()


def tap_today(work):
    work.finger.tap("More")
    work.frames(12)
    work.finger.tap("Today")


def a_day(work, pulls=40):
    for n in range(pulls):
        work.book.keep(a_pull(work.book, grinder="Grinder 1", coffee="House", setting=20, time_s=24.0 + n % 4,
                              dose_g=16.0 if n % 5 else 14.0, barista=("Ines", "Tomo")[n % 2], group=1 + n % 2))
        work.t_s += 300


def open_today(work):
    tap_today(work)
    await_thread(work, lambda: shown(work) == "today" and work.kiosk.root.open.evening is not None
                 and "pulls" in work.kiosk.root.open.sentence.lower())


def type_pin(work, pin, then="Open"):
    for figure in pin:
        work.finger.tap(figure)
    work.finger.tap(then)
    work.frame()


def test_from_idle_to_the_day_in_two_taps_then_down_to_the_pulls_and_a_curve(work):
    a_day(work)
    open_today(work)
    assert work.finger.taps == 2
    screen = work.kiosk.root.open
    assert "40 pulls" in screen.sentence
    first = screen.ids.things.children[-1]
    assert first.text.startswith("Weigh each dose") and first.place == "1"
    read = [shown.text for shown in screen.walk(restrict=True) if isinstance(shown, Words)]
    assert read.count(screen.evening.summary.to_do[0].because) == 1
    work.finger.tap("Weigh each dose")                  # the thing to do, down to the pulls it rests on
    work.frames(2)
    assert shown(work) == "pulls" and work.kiosk.root.open.page.endswith("of 8")
    work.finger.tap("Grinder 1 20")                     # a pull, down to its curve
    work.frames(2)
    assert shown(work) == "pull" and len(work.kiosk.root.open.points) == 3
    for _ in range(2):
        work.finger.tap("Back")
        work.frames(2)
    assert shown(work) == "today" and "40 pulls" in work.kiosk.root.open.sentence


def test_every_figure_that_rests_on_pulls_opens_them(work):
    a_day(work, 12)
    open_today(work)
    work.finger.tap("Figures")
    work.frames(2)
    groups, opened = work.kiosk.root.open._groups, 0
    assert [group.kind for group in groups] == ["grinder", "people", "waste",
                                                "service"][:len(groups)] or len(groups) >= 3
    for n, group in enumerate(groups):
        figures = work.kiosk.root.room("figures")
        figures.choose(n)
        for row in group.rows:
            if row.record_ids:
                work.kiosk.root.open_pulls(row.name, row.record_ids, figures.evening, "figures")
                assert work.kiosk.root.open._count == len(row.record_ids), row.name
                opened += 1
    assert opened > 15


def test_a_figure_of_the_weeks_leads_to_its_days_and_a_day_to_its_own_figures(work):
    a_day(work, 8)
    first = work.book.day_now()
    work.t_s += 86400
    a_day(work, 5)
    open_today(work)
    work.finger.tap("Weeks")
    await_thread(work, lambda: shown(work) == "weeks" and work.kiosk.root.open.weeks is not None)
    work.frames(2)
    work.finger.tap("Best setting on")
    work.frames(2)
    assert "Day by day" in work.kiosk.root.open.title
    work.finger.tap(first)
    await_thread(work, lambda: shown(work) == "today" and "8 pulls" in work.kiosk.root.open.sentence)


def test_a_figure_of_a_week_leads_to_the_records_that_made_it_and_to_those_alone(work):
    a_day(work, 8)
    first = work.book.day_now()
    work.t_s += 86400
    a_day(work, 4)
    work.book.keep(a_pull(work.book, grinder="Grinder 1", coffee="House", setting=20, sink="spilt"))
    work.book.keep(NotchMoved(id=work.book.new_id(), at=work.book.at(), grinder="Grinder 1", coffee="House", before=20, after=19))
    open_today(work)
    work.finger.tap("Weeks")
    await_thread(work, lambda: shown(work) == "weeks" and work.kiosk.root.open.weeks is not None)
    weeks = work.kiosk.root.open
    weeks._group = [str(group.name) for group in weeks._groups].index("Week by week")
    weeks._draw()
    rows, = (group.rows for group in weeks._groups if str(group.name) == "Week by week")
    asked = {row.key.partition("_")[2]: row for row in rows}
    assert asked["pulls"].value == 13 and asked["waste"].value > 0
    for figure in ("window", "pulls", "waste", "moves"):
        weeks.down(asked[figure])
        await_thread(work, lambda: shown(work) == "pulls")
        made_of = [work.book.find(id) for id in work.kiosk.root.open.ids_asked]
        assert work.kiosk.root.open._count == len(made_of) > 0        # each of them has its row
        row = asked[figure]
        assert len(made_of) == {"window": row.of, "waste": 1}.get(figure, row.value)
        assert figure != "waste" or made_of[0].sink == "spilt"
        if figure == "pulls":       # of several days: each with its own
            assert all(first in row.text or not row.text for row in work.kiosk.root.open.ids.rows.children)
        work.finger.tap("Back")
        work.frames(2)
        assert shown(work) == "weeks" and "Week by week" in weeks.title


def test_a_figure_of_a_week_that_is_added_up_late_opens_nothing_once_another_key_was_touched(work, monkeypatch):
    """The page turned, or another figure touched: what was asked for last is what opens."""
    a_day(work, 4)
    work.kiosk.root.go("weeks")
    await_thread(work, lambda: work.kiosk.root.open.weeks is not None)
    weeks, late = work.kiosk.root.open, threading.Event()
    rows, = (group.rows for group in weeks._groups if str(group.name) == "Week by week")
    asked = {row.key.partition("_")[2]: row for row in rows}

    def waits(*given):
        late.wait(PATIENCE_REAL_S)
        return evening_of(*given)

    monkeypatch.setattr("kiosk.screens.manager.weeks.evening_of", waits)
    weeks.down(asked["pulls"])
    weeks.turn()
    late.set()
    work.settle_threads()
    assert shown(work) == "weeks" and weeks.title != "Adding up …"
    late.clear()
    for figure in ("pulls", "window", "window"):
        weeks.down(asked[figure])
    assert sum(thread.name == "sums" for thread in threading.enumerate()) == 2     # a touch more begins no sum more
    late.set()
    await_thread(work, lambda: shown(work) == "pulls")
    work.settle_threads()
    assert work.kiosk.root.open.title == str(asked["window"].name)


def test_with_a_pin_the_day_is_one_tap_and_the_pin_away_and_closed_again_after_work_goes_on(work):
    a_day(work, 6)
    work.service.pin.set("2580")
    tap_today(work)
    work.frames(2)
    assert shown(work) == "pin"
    type_pin(work, "2580")
    await_thread(work, lambda: shown(work) == "today")
    assert work.finger.taps <= 3 + 4                    # three taps, and the PIN's own four figures
    work.finger.tap("Back")
    work.frames(2)
    tap_today(work)
    work.frames(2)
    assert shown(work) == "pin"


def test_a_wrong_pin_opens_nothing_waits_and_leaves_service_alone(work):
    work.service.pin.set("2580")
    work.finger.tap("Who?")
    work.frames(2)
    work.finger.tap("Setup")
    work.frames(2)
    for _ in range(3):
        type_pin(work, "1111")
        await_thread(work, lambda: not work.kiosk.root.open.busy)
    work.frame()
    assert shown(work) == "pin" and "Wait" in work.kiosk.root.open.told
    work.finger.tap("Back")
    work.frames(2)
    work.play(work.hand.order("Espresso"), work.hand.pull(1))
    assert len(work.book.today().of(Pull)) == 1
    assert len([note for note in work.book.today().of(Noted) if note.what == "pin refused"]) == 3


def test_a_pin_is_set_under_setup_by_choosing_it_twice(work):
    work.kiosk.root.go("setup")
    work.kiosk.root.set_pin()
    work.frames(2)
    type_pin(work, "2580", "Set the PIN")
    type_pin(work, "2581", "Set the PIN")
    assert not work.service.pin.there and "not the same" in work.kiosk.root.open.told
    type_pin(work, "2580", "Set the PIN")
    type_pin(work, "2580", "Set the PIN")
    assert work.service.pin.there and shown(work) == "setup"
    work.kiosk.root.set_pin()
    work.frames(2)
    work.finger.tap("No PIN")
    assert not work.service.pin.there


@pytest.mark.parametrize("key, what",
                         [("New bag", "beans"), ("Room", "room"), ("Cleaned", "cleaned"), ("New burrs", "burrs")])
def test_it_is_noted_in_two_taps(work, key, what):
    work.finger.tap("Note")
    work.frames(2)
    work.finger.tap(key)
    work.frames(2)
    assert work.finger.taps == 2
    note, = work.book.today().of(Noted)
    assert note.what == what
    assert "Noted" in work.kiosk.root.open.told


def test_what_was_noted_is_put_right_by_taps_as_one_correction_and_can_be_taken_back(work):
    work.finger.tap("Note")
    work.frames(2)
    work.finger.tap("Room")
    work.frames(2)
    for key in ("+ °C", "+ °C", "– %"):
        work.finger.tap(key)
    work.finger.tap("Cleaned")
    work.frames(2)
    room, cleaned = work.book.today().of(Noted)
    assert room.facts == {"temperature_c": 21.0, "humidity_percent": 49}
    assert len(work.book.today().of(Corrected)) == 1
    work.finger.tap("Undo")
    assert [note.what for note in work.book.today().of(Noted)] == ["room"]


def test_a_scale_check_takes_the_weight_on_the_scale_for_the_nearest_test_weight(tmp_path):
    with AtWork(tmp_path) as work:
        work.finger.tap("Note")
        work.frames(1)
        work.settle_threads()
        assert "known weight" in work.kiosk.root.open.due
        work.finger.tap("Scale check")
        work.frames(2)
        assert work.book.today().of(ScaleChecked) == () and "Set a test weight" in work.kiosk.root.open.told
        work.scale.put_on(100.0)
        work.frames(60)
        work.finger.tap("Scale check")
        work.frames(1)
        work.settle_threads()
        check, = work.book.today().of(ScaleChecked)
        assert check.nominal_g == 100.0 and check.read_g == pytest.approx(100.0, abs=0.3) and check.resolution_g == 0.1
        assert "known weight" not in work.kiosk.root.open.due


def test_what_is_due_stands_at_opening_and_at_closing(work):
    work.finger.tap("Note")
    work.frames(1)
    work.settle_threads()
    assert "humidity" in work.kiosk.root.open.due and "Clean" not in work.kiosk.root.open.due
    work.finger.tap("Room")
    work.finger.tap("Back")
    work.frames(2)
    a_day(work, 12)
    work.t_s += 3600                                    # nobody has pulled for an hour
    work.finger.tap("Note")
    work.frames(1)
    work.settle_threads()
    assert work.kiosk.root.open.due.startswith("Due: Clean groups")
    work.finger.tap("Cleaned")
    work.frames(1)
    work.settle_threads()
    assert work.kiosk.root.open.due == "Nothing is due."


def test_the_station_says_what_is_due_while_the_hands_are_free_and_not_in_service(work):
    station = work.kiosk.root.open
    await_thread(work, lambda: "Due: Read the room" in station.waiting)
    work.play(work.hand.order("Espresso"))
    assert "Due" not in station.waiting
    work.play(work.hand.pull(1))
    work.finger.tap("Note")
    work.frames(2)
    work.finger.tap("Room")
    work.finger.tap("Back")
    await_thread(work, lambda: "Due" not in station.waiting)


def test_closing_the_day_writes_its_evening_to_the_folder(work):
    a_day(work, 3)
    work.finger.tap("Note")
    work.frames(2)
    work.finger.tap("Close the day")
    closing = work.service.closing
    await_thread(work, lambda: closing.written is not None)
    assert closing.written.name == f"{work.book.day_now()}.html" and closing.written.exists()


def test_an_empty_book_has_an_evening_and_weeks_that_say_so(work):
    tap_today(work)
    await_thread(work, lambda: "No pulls" in work.kiosk.root.open.sentence)
    work.finger.tap("Weeks")
    await_thread(work, lambda: "Adding" not in work.kiosk.root.open.title)
    work.finger.tap("Back")
    work.frames(2)
    assert shown(work) == "today"


def test_on_a_disk_that_takes_nothing_the_pin_pad_opens_and_says_what_it_could_not_keep(work):
    work.service.pin.set("2580")
    disk = work.service.pin._disk = Refusing(errno.EROFS)
    work.finger.tap("Who?")
    work.frames(2)
    work.finger.tap("Setup")
    work.frames(2)
    type_pin(work, "2580")
    await_thread(work, lambda: shown(work) == "setup")
    work.kiosk.root.set_pin()
    work.frames(2)
    for _ in range(2):
        type_pin(work, "1357", "Set the PIN")
    assert "could not be kept" in work.kiosk.root.open.told
    disk.sync_folder = lambda _path: (_ for _ in ()).throw(refusing(errno.EROFS))
    work.finger.tap("No PIN")
    work.frame()
    assert "could not be taken away" in work.kiosk.root.open.told


@pytest.mark.parametrize("reckoning, room", [("manager.today.evening_of", "Today"), ("manager.weeks.weeks_of", "Weeks")])
def test_a_day_that_does_not_add_up_is_told_in_a_sentence_and_the_way_back_is_open(work, monkeypatch, reckoning, room):
    def no_sum(*_given):
        raise OverflowError("what nobody thought of")

    a_day(work, 2)
    open_today(work)
    monkeypatch.setattr(f"kiosk.screens.{reckoning}", no_sum)
    if room == "Today":
        work.finger.tap("Back")
        work.frames(2)
    tap_today(work) if room == "Today" else work.finger.tap(room)
    screen = work.kiosk.root.open
    await_thread(work, lambda: "could not be added up" in (screen.sentence if room == "Today" else screen.title))
    work.finger.tap("Back")
    work.frames(2)
    assert shown(work) != room.lower()


def test_today_asked_for_again_while_it_is_added_up_is_shown_once_and_the_day_before_it_has_no_figures_meanwhile(work, monkeypatch):
    a_day(work)
    late = threading.Event()

    def waits(*given):
        late.wait(PATIENCE_REAL_S)
        return evening_of(*given)

    monkeypatch.setattr("kiosk.screens.manager.today.evening_of", waits)
    for _ in range(2):
        tap_today(work)
        work.finger.tap("Back")
        work.frames(2)
    tap_today(work)
    late.set()
    work.settle_threads()
    today = work.kiosk.root.open
    assert len(today.ids.things.children) == len(today.evening.summary.to_do) > 0
    late.clear()
    today.open("2026-01-01")
    today.figures()
    assert shown(work) == "today" and not today.more
    late.set()
    work.settle_threads()


def test_a_longer_span_is_under_its_own_title_whatever_is_touched_while_it_is_added_up(work, monkeypatch):
    a_day(work, 4)
    work.kiosk.root.go("weeks")
    await_thread(work, lambda: work.kiosk.root.open.weeks is not None)
    weeks, late = work.kiosk.root.open, threading.Event()
    row = weeks._groups[0].rows[0]

    def waits(*given):
        late.wait(PATIENCE_REAL_S)
        return weeks_of(*given)

    monkeypatch.setattr("kiosk.screens.manager.weeks.weeks_of", waits)
    for touched in (weeks.turn, weeks.next_group, lambda: weeks.down(row)):
        weeks.open(28)
        late.set()
        work.settle_threads()
        late.clear()
        of_28 = weeks.weeks
        weeks.next_span()
        touched()
        assert weeks.title == "Adding up …" and not weeks.ids.rows.children
        late.set()
        work.settle_threads()
        assert "91 days" in weeks.title and weeks.weeks is not of_28
        late.clear()


def test_any_key_can_be_touched_before_the_weeks_have_been_added_up(tmp_path, monkeypatch):
    monkeypatch.setattr("kiosk.station.aside.Aside.begin", lambda *_given: None)
    with AtWork(tmp_path, scale=False) as work:
        work.kiosk.root.go("weeks")
        work.kiosk.root.open.turn()
        work.kiosk.root.open.next_group()
        work.kiosk.root.open.next_span()
        work.settle_threads()
