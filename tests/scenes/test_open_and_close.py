"""Opening, closing and cleaner, on the real screens; a new bar's first day."""

from datetime import timedelta

import pytest
from kivy.core.window import Window

from kiosk.__main__ import main
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Noted, Pull, Step, read
from kiosk.bar.model.setup import CLEANING, NAME_TAKEN
from kiosk.bar.model.tasks import USUAL
from kiosk.book import Book
from kiosk.languages import catalogue
from kiosk.screens.setup.settings import sections
from kiosk.screens.ui import words
from tests.support.at_work import OPENING, AtWork


def card(work, group=1):
    return work.kiosk.root.room("station").card(group)


@pytest.fixture
def work(tmp_path):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as at_work:
        yield at_work


def test_scene_67_after_cleaner_no_pull_is_planned_until_ten_rinses_and_a_shot_poured_away(work, tmp_path):
    for _ in range(2):
        work.service.next_state(1)
    assert work.service.setup.closed == {1: CLEANING}
    work.frames(12)
    work.tap("Cleaner used")
    work.service.next_state(1)
    work.service.set_setting(("closed", "1"), None)         # opened by mistake: cleaner is still in it
    work.service.orders.take(((work.service.setup.drink("Espresso"), 1),))
    work.frames(12)
    assert work.service.lanes[1].work is None and "rinse 1 of 10" in card(work).big and "gloves" in card(work).told
    for _ in range(4):
        work.tap("Rinsed")
    work.close()
    with AtWork(tmp_path / "book", scale=False) as again:   # the plug was pulled: nothing is forgotten
        again.frames(12)
        assert again.service.lanes[1].work is None and "rinse 5 of 10" in card(again).big
        for _ in range(6):
            again.tap("Rinsed")
        assert again.service.lanes[1].work is None and "pour it away" in card(again).big
        again.tap("Poured away")
        assert again.service.lanes[1].work.planned.title == "Espresso"


def test_scene_43_a_closing_left_half_done_is_asked_about_next_morning(work, tmp_path):
    work.tap("More", "Closing")
    room = work.kiosk.root.open
    assert room.what == "Backflush with water" and room.picture == "backflush" and "three-way valve" in room.caution     # before it
    work.tap("Done")
    assert room.what == "Shower screens" and "burns long after" in room.caution
    work.tap("Empty and wipe the hopper", "Skip", "No time")
    notes = {note.facts["task"]: note for note in work.book.today().of(Noted)}
    assert notes["Empty and wipe the hopper"].facts["why"] == "No time" and notes["Backflush with water"].what == "task done"
    assert room.what == "Steam wand"
    work.tap("Milk fridge", "Steam wand", "Done")           # another one while a number is read: that one is done
    assert room.what == "Milk fridge" and room.value_words == "4 °C"
    work.tap("+", "+", "+")
    assert "outside" in room.told
    work.tap("Done")
    assert next(note for note in work.book.today().of(Noted) if note.facts["task"] == "Milk fridge").facts["value"] == 5.5
    assert room.what == "Shower screens" and "Milk fridge: 5.5 °C. It is outside" in room.told
    work.close()
    with AtWork(tmp_path / "book", scale=False, day=OPENING + timedelta(days=1)) as morning:
        station = morning.kiosk.root.room("station")
        morning.settle_threads()
        morning.frames(8)
        assert "Left at closing: Shower screens" in station.waiting


def test_a_list_left_in_the_middle_goes_on_at_the_first_step_that_nothing_was_told_of(work):
    for _ in range(2):                                      # opened twice: nothing is passed over
        work.tap("More", "Opening", "Back")
    work.tap("More", "Opening")
    assert work.kiosk.root.open.what == "Flush each group"
    work.tap("Done", "Pump pressure", "Done", "Back", "More", "Opening")
    assert work.kiosk.root.open.what == "Check the scale"


def test_a_step_told_by_a_slip_is_taken_back_and_one_skipped_has_a_reason_of_the_bars_own(work):
    work.tap("More", "Opening", "Done", "Flush each group", "Undo")
    assert work.service.tasks.ticked("opening") == {}
    work.tap("Check the scale", "Skip", "Type it")
    Window.dispatch("on_textinput", "sent away")
    work.tap("Save")
    note = work.service.tasks.ticked("opening")["Check the scale"]
    assert note.facts["why"] == "sent away"
    assert "skipped: sent away" in work.finger.find("Check the scale").under


@pytest.fixture
def in_german(tmp_path):
    """The rooms of a bar that reads German."""
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1, "language": "de", "staff": {"Opening": {}}}) as work:
        work.kiosk.root.home()
        yield work
    words.speak(catalogue("en"))


def section(work, name: str):
    """That section of Setup, opened; `name` is what it is called in the language spoken."""
    work.kiosk.root.go("setup")
    setup = work.kiosk.root.open
    setup.choose([each.name for each in sections(work.service.setup)].index(name))
    return setup


def test_a_step_whose_words_were_looked_at_and_saved_unchanged_is_the_kiosks_own_still(in_german):
    work = in_german
    setup = section(work, words._("Opening"))
    setup.look_inside("Flush each group")
    for row in ("Name", "Caution", "Who does it"):
        setup.touch(next(each.row for each in setup.ids.rows.children if getattr(each, "row", None) and each.row.name == words._(row)))
        assert work.kiosk.root.current == "letters"
        work.kiosk.root.open.done()
        assert setup.inside == "Flush each group"
    assert "opening" not in work.book.settings and not setup.undoable
    assert work.service.setup.opening == USUAL["opening"]
    assert setup.affects.endswith("› Jede Gruppe spülen")
    setup.look_inside("")
    titles = dict(setup._names)
    setup.touch(next(each.row for each in setup.ids.rows.children if getattr(each, "row", None) and each.row.write))
    Window.dispatch("on_textinput", "jede Gruppe spülen")       # shown as one of the kiosk's own: one of the two could not be found
    work.kiosk.root.open.done()
    assert setup.affects == words._(NAME_TAKEN) and setup._names == titles


def test_a_long_caution_that_is_written_on_loses_nothing_of_what_was_there(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        setup = section(work, "Closing")
        setup.look_inside("Backflush with water")
        setup.touch(next(each.row for each in setup.ids.rows.children if getattr(each, "row", None) and each.row.name == "Caution"))
        before = work.service.setup.closing[0].caution
        letters = work.kiosk.root.open
        letters.delete()
        Window.dispatch("on_textinput", "!")
        letters.done()
        assert work.service.setup.closing[0].caution == before[:-1] + "!" and len(before) > 80


def test_a_person_called_like_a_word_of_the_kiosks_is_called_that_in_every_language(in_german):
    setup = section(in_german, words._("Staff"))
    assert words._("Opening") != "Opening" in [each.row.name for each in setup.ids.rows.children if getattr(each, "row", None)]
    setup.look_inside("Opening")
    assert setup.affects.endswith("› Opening")


def test_a_grinder_that_is_added_is_shown_at_once(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1}) as work:
        setup = section(work, "Grinders")
        setup.write(next(row for row in sections(work.service.setup)[0].rows if row.name == "Add a grinder"))
        Window.dispatch("on_textinput", "Decaf")
        work.kiosk.root.open.done()
        assert work.service.setup.grinders[1].coffee == "Decaf" and setup.inside == "Decaf"
        work.tap("To the list", "Undo")
        assert len(work.service.setup.grinders) == 1


def test_the_bar_changes_its_lists_in_setup(work, tmp_path):
    """A step added with a number and its limits, a caution and who does it; one renamed, moved, taken off."""
    work.kiosk.root.go("setup")
    setup = work.kiosk.root.open
    setup.choose(next(n for n in range(setup._tabs.count) if sections(work.service.setup)[n].name == "Opening"))
    work.frames(4)

    def row(name: str):
        return next(each.row for each in setup.ids.rows.children if getattr(each, "row", None) and each.row.name == name)

    def at(name: str):
        while True:
            try:
                return row(name)
            except StopIteration:
                setup.turn()

    def write(name: str, text: str):
        setup.touch(at(name))
        work.kiosk.root.open.text = ""
        Window.dispatch("on_textinput", text)
        work.kiosk.root.open.done()

    write("Add a task", "Ice machine")
    assert setup.inside == "Ice machine"
    for _ in range(2):                                          # °C, then bar
        setup.change(at("A number to read").more)
    setup.change(at("A number to read").less)
    for _ in range(2):                                          # at least, at most
        setup.change(at("Limits").more)
    for _ in range(4):
        setup.change(at("At most").less)
    write("Caution", "Cold burns.")
    write("Who does it", "Early shift")
    setup.change(at("Picture").less)
    task = work.service.setup.opening[-1]
    assert (task.name, task.unit, task.low, task.high, task.caution, task.who) == ("Ice machine", "°C", None, -4, "Cold burns.", "Early shift")
    assert task.picture and len(work.service.setup.opening) == len(USUAL["opening"]) + 1
    setup.change(at("Place on the list").more)                  # round the end: it is the first
    write("Name", "Ice")
    assert setup.inside == "Ice" and [task.name for task in work.service.setup.opening][:2] == ["Ice", "Flush each group"]
    before = work.service.book.settings["opening"]
    for name in ("ice", "Ice"):                                 # capitals put right
        write("Name", name)
        assert work.service.setup.opening[0].name == setup.inside == name
    write("Name", "pump pressure")                              # another's name: told, and nothing is lost
    assert "one of that name already" in setup.affects and work.service.book.settings["opening"] == before
    setup.look_inside("")
    write("Add a task", "Ice")
    assert "one of that name already" in setup.affects and work.service.book.settings["opening"] == before
    setup.look_inside("Pump pressure")
    setup.change(at("Off the list").more)
    assert "Pump pressure" not in [task.name for task in work.service.setup.opening] and setup.inside == ""
    setup.undo()
    assert "Pump pressure" in [task.name for task in work.service.setup.opening]
    work.service.set_setting(("opening", "Ice", "low"), 3.0)    # above the most: told, and nothing changed
    assert work.service.setup.opening[0].low is None
    work.kiosk.root.home()
    work.tap("More", "Opening")
    assert work.kiosk.root.open.what == "Ice" and work.kiosk.root.open.caution == "Cold burns." and "Early shift" in work.kiosk.root.open.told
    work.close()
    file, other = tmp_path / "setup.json", tmp_path / "other"
    assert main(["setup", "export", str(file), "--book", str(tmp_path / "book")]) == 0
    assert main(["setup", "import", str(file), "--book", str(other)]) == 0
    with Book.open(other, read_only=True) as book:
        assert read(book.settings)[0].opening[0].name == "Ice" and read(book.settings)[0].closing == USUAL["closing"]


def test_whoever_does_a_task_is_named_in_no_file_for_another_station_and_is_forgotten(tmp_path):
    with Book.open(tmp_path / "book") as book:
        book.set_setting("staff.Ines", {"new": False})
        book.set_setting("closing", {"Hopper": {"who": "Ines"}, "Floor": {"who": "Late shift"}})
        book.set_setting("closing.Hopper.who", "Ines")
    assert main(["setup", "export", str(tmp_path / "s.json"), "--book", str(tmp_path / "book")]) == 0
    text = (tmp_path / "s.json").read_text()
    assert "Ines" not in text and "Late shift" in text
    with Book.open(tmp_path / "book") as book:
        book.forget("Ines")
    assert all(b"Ines" not in path.read_bytes() for path in (tmp_path / "book").rglob("*") if path.is_file())


def test_scene_68_a_cold_machine_is_said_at_opening(work):
    work.tap("More", "Opening", "Machine temperature")
    for _ in range(6):
        work.finger.tap("–")
    work.frames(12)
    room = work.kiosk.root.open
    assert room.value == 90.0 and "outside" in room.told and "90.5–96.1" in room.told        # SCA, definition of espresso
    work.tap("Done")
    note, = work.book.today().of(Noted)
    assert note.facts == {"list": "opening", "task": "Machine temperature", "value": 90.0, "unit": "°C"}
    work.tap("Back")
    work.service.next_state(1)                              # heating: nothing is planned there
    work.service.orders.take(((work.service.setup.drink("Espresso"), 1),))
    assert work.service.lanes[1].work is None


def test_scene_69_a_choked_basket_that_does_not_vent_stays_locked_in_and_a_technician_is_called(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": {"Tomo": {"new": True}}}) as work:
        work.service.choose("Tomo")
        work.service.orders.take(((work.service.setup.drink("Double espresso"), 1),))
        lane = work.service.lanes[1]
        while lane.work.guide.step is not Step.PULL:
            work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.Forward)
        work.frames(20 * 41)
        work.service.tap(1, guides.Forward)
        work.service.tap(1, guides.YieldTapped, 1.0)
        said = work.service.lanes.trouble(1)
        assert said.bin and "leave it locked in" in said.now.lower() and "technician" in said.now


def test_scene_41_a_new_bars_first_double_is_served_within_two_minutes_of_first_light(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        began_s = work.t_s
        work.tap("Order", "Double espresso", "Start")
        work.play(work.hand.pull(1))
        assert work.t_s - began_s < 120 and len(work.book.today().of(Pull)) == 1


def test_a_card_for_burns_is_one_touch_from_the_lanes_and_from_the_drawer(work):
    for touches in (("Burnt?", "Back"), ("More", "Burnt?", "Back")):
        *there, back = touches
        work.tap(*there)
        assert work.kiosk.root.current == "burn"
        work.tap(back)
        assert work.kiosk.root.current == "station"


def test_a_closing_that_goes_on_past_the_end_of_the_service_day_is_one_list_and_the_next_evenings_another(tmp_path):
    night = OPENING.replace(day=15, hour=3, minute=58)          # a service day ends at four
    with AtWork(tmp_path, scale=False, day=night) as work:
        tasks, steps = work.service.tasks, work.service.setup.closing

        def done(step, after_s):
            work.t_s += after_s
            tasks.done("closing", step)
            return list(tasks.ticked("closing"))

        assert done(steps[0], 0) == [steps[0].name]
        room = work.kiosk.root.room("tasks")
        room.open("closing")
        assert done(steps[1], 240) == [steps[0].name, steps[1].name]
        assert work.book.day_now() == "2026-03-15"
        work.frames(3)
        assert steps[0].name in tasks.ticked(room.of)
        work.t_s += 18 * 3600
        assert tasks.ticked("closing") == {}                    # nothing of this evening's was told
        assert done(steps[2], 0) == [steps[2].name]
        assert tasks.left_yesterday() == tuple(step.name for step in steps[3:])
