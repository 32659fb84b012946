"""A hire, and the trainer beside them, on the real screens."""

from threading import Event

from kiosk.__main__ import main
from kiosk.bar.guide import guide as guides
from kiosk.bar.model import Noted, Pull
from kiosk.bar.model.lessons import BLIND_TEST
from kiosk.bar.training import Score
from kiosk.station.teaching import training_of
from tests.support.at_work import AtWork

STAFF = {"Ines": {}, "Tomo": {"new": True}}


def test_scene_44_the_hire_cannot_sign_alone_where_the_bar_has_a_pin(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        rooms.service.pin.set("4711")
        work.service.choose("Tomo")
        rooms.go("trainer")
        work.frames(5)
        assert rooms.current == "pin"
        assert work.service.teaching.signed_by("Tomo") is None


def test_scene_44_the_trainer_ticks_steps_off_while_watching_and_the_certificate_says_so(tmp_path, capsys):
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1, "staff": STAFF, "bar": "Rosa & Co"}) as work:
        work.kiosk.root.go("trainer")
        work.settle_threads()
        work.tap("Watch", "Ines", "Dose", "Tamp", "Dose", "Done")
        work.settle_threads()
        room = work.kiosk.root.open
        assert "Seen right by a trainer: 2 of 11 steps" in room.lines
        shown = [(note.facts["who"], note.facts["step"], note.by) for note in work.book.today().of(Noted)]
        assert shown == [("Tomo", "dose", "Ines"), ("Tomo", "tamp", "Ines")]
        work.tap("Sign off", "Ines")
        work.settle_threads()
        work.tap("Certificate")
        work.settle_threads()
        assert room.rule.startswith("Written: ") and room.rule.endswith("Tomo.html")
        page = (work.service.closing.folder / "Tomo.html").read_text()
    file = tmp_path / "by command.html"
    assert main(["certificate", "Tomo", "--html", str(file), "--book", str(tmp_path / "book")]) == 0
    for text in (page, file.read_text()):
        assert "Signed off by Ines on 2026" in text and "Rosa &amp; Co" in text and text.count("<td>Ines</td>") == 2
        assert "http" not in text and "<script" not in text
    assert main(["certificate", "Nobody", "--html", str(file), "--book", str(tmp_path / "book")]) == 2
    assert "knows nobody called Nobody" in capsys.readouterr().err


def test_whoever_comes_back_from_find_finds_the_record_once_and_goes_on_watching(tmp_path):
    trainers = {f"{letter}la": {} for letter in "ABCDEU"}           # more than have a key each
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": {"Tomo": {"new": True}} | trainers}) as work:
        work.service.teaching.lesson_done(BLIND_TEST, Score(), 0, "Tomo")
        work.kiosk.root.go("trainer")
        room = work.kiosk.root.open
        work.settle_threads()
        assert len(room.ids.told.children) == 1
        work.tap("Person…", "Tomo")
        work.settle_threads()
        assert len(room.ids.told.children) == 1
        work.tap("Watch", "Ula")
        work.settle_threads()
        assert room.rule.startswith("Ula watches Tomo") and room.lines == "" and not room.ids.told.children
        work.tap("Dose", "Done")
        work.settle_threads()
        assert "Seen right by a trainer: 1 of 11 steps" in room.lines


def test_a_record_that_is_added_up_late_does_not_come_over_a_trainers_watch(tmp_path, monkeypatch):
    late = Event()
    monkeypatch.setattr("kiosk.screens.hire.trainer.training_of", lambda *given: late.wait(30) and training_of(*given))
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.kiosk.root.go("trainer")
        work.frames(12)
        work.tap("Watch", "Ines")
        late.set()
        work.settle_threads()
        assert work.kiosk.root.open.lines == "" and work.finger.find("Dose") is not None


def test_a_restart_remembers_who_is_at_work(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.service.choose("Ines")
    with AtWork(tmp_path, scale=False) as again:
        assert again.service.barista == "Ines" and again.kiosk.root.room("station").who == "Ines"


def passes(work, seconds):
    """So long nobody touches anything."""
    work.t_s += seconds
    work.frames(4)


def test_the_managers_rooms_close_after_two_minutes_without_a_touch(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        rooms.service.pin.set("4711")
        rooms.unlock("today")
        work.frames(5)
        assert rooms.current == "today"
        passes(work, 60)
        work.finger.touch(1, 1)
        passes(work, 90)
        assert rooms.current == "today"
        passes(work, 40)
        assert rooms.current == "station"
        rooms.go("today")
        assert rooms.current == "pin"
        rooms.open.add("4")
        passes(work, 125)
        assert rooms.current == "station"                   # no half of a PIN stays on the glass
        rooms.unlock("setup")
        rooms.set_pin()
        passes(work, 125)
        assert rooms.current == "station"                   # nor can whoever comes by choose another one
        rooms.unlock("setup")
        rooms.go("notes")                                   # by whatever way
        passes(work, 125)
        rooms.go("setup")
        assert rooms.current == "pin"


def test_whoever_types_on_a_keyboard_is_there(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        rooms.service.pin.set("4711")
        rooms.unlock("setup")
        rooms.write("Name", "", lambda name: None)
        for letter in "Ada":
            passes(work, 60)
            rooms.open._keyboard.dispatch("on_textinput", letter)
        assert rooms.current == "letters" and rooms.open.text == "Ada"
        passes(work, 60)
        rooms.open._keyboard.dispatch("on_key_down", (8, "backspace"), "", [])
        passes(work, 70)
        assert rooms.current == "letters" and rooms.open.text == "Ad"
        passes(work, 60)
        assert rooms.current == "station"


def test_scene_45_a_week_of_haste_without_a_scale_fades_no_help(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.service.choose("Tomo")
        for _day in range(7):
            for _ in range(8):
                work.service.orders.take(((work.service.setup.menu[1], 1),))
                lane = work.service.lanes[1]
                while lane.work is not None:
                    work.t_s += 5.6 if lane.work.guide.pulling else 0.6
                    work.service.tap(1, guides.Forward)
            work.t_s += 86_400 - 600
        work.service.orders.take(((work.service.setup.menu[1], 1),))
        work.frames(12)
        assert len([pull for day in work.book.days() for pull in work.book.day(day).of(Pull)]) == 56
        assert work.service.lanes[1].work.guide.full and work.kiosk.root.current == "coach"


def test_a_hires_milk_is_a_step_a_page_beside_the_coffee_whose_stop_calls_her_back(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        work.service.choose("Tomo")
        for name in ("Espresso", "Cappuccino, soya milk", "Latte"):
            work.service.orders.take(((work.service.setup.drink(name), 1),))
        work.frames(12)
        assert rooms.current == "coach" and not rooms.open.milk         # an espresso: nothing to steam, no key
        espresso = work.service.lanes[1].work.key
        while work.service.lanes[1].work.key == espresso:
            work.service.tap(1, guides.Forward)
        work.frames(12)
        work.tap("Milk…")
        room = rooms.open
        assert rooms.current == "milk" and "Cappuccino" in room.title and room.caution.startswith("Contains soya.")
        work.tap("Next step", "Next step")
        assert "under the surface" in room.what and room.sign == "caution_steam" and "sprays" in room.caution
        work.tap("Burnt?", "Back")                                      # one touch from the wand, and back to it
        assert rooms.current == "milk" and "under the surface" in room.what
        work.tap("Step back", "To the coffee")
        assert rooms.current == "coach"
        while not work.service.lanes[1].work.guide.pulling:
            work.service.tap(1, guides.Forward)
        work.frames(12)
        work.tap("Milk…")
        assert "Purge" in room.what                                     # where she left it
        work.until(lambda: rooms.current == "coach", 60)
        assert rooms.open.stop_now                                      # the pump before the jug
        work.service.tap(1, guides.Forward)
        work.frames(12)
        work.tap("Milk…", *["Next step"] * 5)
        assert "pour" in room.what
        work.tap("Poured")
        assert rooms.current == "coach"
        cappuccino = work.service.lanes[1].work.key
        while work.service.lanes[1].work.key == cappuccino:
            work.service.tap(1, guides.Forward)
        work.frames(12)
        work.tap("Milk…")
        assert "cold milk" in room.what and room.caution.startswith("Contains milk.")       # the next one begins anew
        work.tap("Burnt?")
        for order_id, _n in work.service.lanes[1].work.waiting.places:
            work.service.orders.cancel(order_id)
        work.tap("Back")                                                # its order was cancelled meanwhile: no milk of nothing
        work.frames(12)
        assert work.service.lanes[1].work is None and rooms.current == "station"
