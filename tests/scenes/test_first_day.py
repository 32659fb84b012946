"""A new bar's first light, on the real screens: four questions that can be skipped, and a keyboard that writes."""

from pathlib import Path

from kivy.core.window import Keyboard, Window
from kivy.lang.parser import Parser

from kiosk import screens
from kiosk.bar.model import Pull
from kiosk.screens.ui.touch import Key
from tests.support.at_work import AtWork

SCREENS = Path(screens.__path__[0])


def press(work, key: str):
    Window.dispatch("on_key_down", Keyboard.keycodes[key], 0, None, [])
    work.frames(2)


def test_four_questions_are_answered_and_what_is_not_is_left_as_it_was(tmp_path):
    with AtWork(tmp_path, scale=False, first_day=True) as work:
        work.tap("+", "+", "Next", "Type it")
        Window.dispatch("on_textinput", "Süd")
        press(work, "enter")
        work.tap("Next", "Type it", "I", "N", "E", "S", "Save")
        assert work.kiosk.root.open.answer == "Ines" and work.service.barista == "Ines"
        work.tap("Next", "No scale", "Next")
        setup = work.service.setup
        assert (setup.grinders[0].setting, setup.grinders[0].coffee, setup.staff[0].name, setup.scale.url) == (22, "Süd", "Ines", "")
        assert work.kiosk.root.current == "station"
        work.kiosk.root.go("setup")
        assert len(work.book.settings["grinders"]) == 1


def test_a_name_that_does_not_fit_is_told_and_the_question_stands(tmp_path):
    with AtWork(tmp_path, scale=False, first_day=True) as work:
        work.tap("Next", "Next", "Type it")
        Window.dispatch("on_textinput", ".")
        press(work, "enter")
        room = work.kiosk.root.open
        assert room.complaint.startswith("A name has at least one letter") and room.question == "Who works here?"
        assert work.service.barista is None and not work.service.setup.staff
        work.tap("Type it", "I", "D", "A", "Save")
        assert (room.complaint, work.service.barista) == ("", "Ida")
        work.tap("Type it")
        Window.dispatch("on_textinput", ".")
        press(work, "enter")
        assert room.complaint
        work.service.set_setting(("staff", "Ida", "left_handed"), True)
        for name in ("Ida", "ida"):                             # is there already: told, and what is known of her stays
            room._joins(name)
            assert room.complaint.startswith("There is one of that name") and len(work.service.setup.staff) == 1
            assert work.service.setup.left_handed("Ida")
        work.tap("Next")
        assert (room.question, room.complaint) == ("Is there a scale under the cup?", "")      # it was another question's


def test_all_questions_skipped_the_first_order_is_taken_and_served(tmp_path):
    with AtWork(tmp_path, scale=False, first_day=True) as work:
        began_s = work.t_s
        assert "Setup" in " ".join(key.text for key in work.kiosk.root.open.walk() if hasattr(key, "text"))
        work.tap("Next", "Next", "Skip all", "Order", "Double espresso", "Start")
        work.play(work.hand.pull(1))
        assert len(work.book.today().of(Pull)) == 1 and work.t_s - began_s < 120


def test_a_plugged_in_keyboard_writes_and_escape_goes_back_and_closes_nothing(tmp_path):
    with AtWork(tmp_path, scale=False) as work:
        written = []
        work.kiosk.root.go("setup")
        work.kiosk.root.write("Name", "", written.append)
        work.frames(2)
        Window.dispatch("on_textinput", "Zoë")
        press(work, "backspace")
        press(work, "escape")
        assert work.kiosk.root.current == "setup" and written == []
        Window.dispatch("on_textinput", "x")             # nobody writes there any more
        work.kiosk.root.write("Name", "", written.append)
        work.frames(2)
        Window.dispatch("on_textinput", "Zoë-Lu")
        press(work, "enter")
        assert written == ["Zoë-Lu"]
        press(work, "escape")
        assert work.kiosk.root.current == "setup" and work.kiosk.root.parent is not None


def test_every_row_that_ends_with_the_key_to_touch_next_is_turned_for_a_left_hand():
    def within(rule):
        for child in rule.children or ():
            yield from ((rule, child), *within(child))

    turned = 0
    for file in sorted(SCREENS.rglob("*.kv")):
        for _selector, rule in Parser(content=file.read_text("utf-8"), filename=str(file)).rules:
            for row, key in within(rule):
                kind = key.properties.get("kind")
                if key.name == "Key" and kind is not None and kind.value == '"next"' and key is row.children[-1]:
                    assert row.name == "Handed", f"{file.name}:{key.line + 1}"
                    turned += 1
    assert turned > 15


def test_the_key_to_touch_next_is_on_the_left_for_a_left_hand(tmp_path):
    staff = {"Ines": {}, "Tomo": {"new": True, "left_handed": True}}
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": staff}) as work:
        def left_of(strong: str, other: str) -> bool:
            return work.finger.find(strong).x < work.finger.find(other).x

        work.service.choose("Tomo")
        work.tap("Order")
        work.tap("Double espresso")
        assert left_of("Start", "Next order") and left_of("Start", "Espresso")
        work.tap("Start")
        assert work.kiosk.root.current == "coach" and left_of("Cup is warm", "Bin…")
        for room, strong, other in (("weight", "Exactly 16.0 g", "Back"), ("bin", "Go on", "Skip"), ("tasks", "Done", "Back"),
                                    ("practice", "Pump on", "Back"), ("notch", "Which way?", "Back"), ("setup", "Done", "Undo"),
                                    ("letters", "Save", "Back"), ("pin", "Open", "Delete"), ("first day", "Next", "Skip all"),
                                    ("notes", "Back", "Undo"), ("weeks", "Back", "More rows"), ("today", "Back", "Earlier")):
            if room != "notch":
                work.kiosk.root.room(room).group = 1
            work.kiosk.root.go(room)
            work.settle_threads()
            work.frames(4)
            keys = {key.text: key.to_window(*key.pos)[0] for key in work.kiosk.root.open.walk() if isinstance(key, Key)}
            assert keys[strong] < keys[other], room
        assert keys["Earlier"] < keys["Later"]                          # what has an order of its own keeps it
        work.kiosk.root.home()
        work.service.choose("Ines")
        work.tap("Order", "Espresso")
        assert left_of("Americano", "Start") and left_of("Next order", "Start")
