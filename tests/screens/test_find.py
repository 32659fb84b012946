"""One of many: people, drinks and settings found by the first letter, or by typing."""

import string

from kivy.core.window import Window

from kiosk.bar.model import OrderTaken
from kiosk.screens.setup.find import FindScreen, initials, narrowed
from tests.support.at_work import AtWork

PEOPLE = {f"{letter}{rest}": {} for letter in string.ascii_uppercase for rest in ("da", "io")} | {"Zoë-Lu": {}}
MENU = {f"{first} {second}": {"shot": "single"} for first in ("Iced", "Flat", "Long", "Short", "Oat") for second in
        ("Black", "White", "Brew", "Mocha", "Tonic", "Kiss", "Cloud", "Dust")}


def test_a_name_is_found_by_any_of_its_words_whatever_its_accents():
    names = ["Zoë-Lu", "Zara", "Ana Zoé", "Ben"]
    assert narrowed(names, "zo") == ["Ana Zoé", "Zoë-Lu"] and narrowed(names, "x") == []
    assert initials(["Özil", "Otto", "ben"]) == ["B", "O"]


def test_one_of_53_people_is_at_work_in_three_touches_or_as_soon_as_she_is_typed(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": PEOPLE}) as work:
        rooms = work.kiosk.root
        rooms.go("who")
        work.frames(4)
        places = {key.text: tuple(key.pos) for key in work.finger.keys()}
        work.tap("More")
        now = {key.text: tuple(key.pos) for key in work.finger.keys()}
        assert all(now[words] == places[words] for words in ("More", "Find", "Nobody", "Practise"))     # nothing moves under a finger
        work.tap("Find", "T", "Tio")
        assert work.service.barista == "Tio" and rooms.current == "station"
        rooms.go("who")
        work.frames(4)
        for letter in "zoe":
            Window.dispatch("on_textinput", letter)
            work.frames(2)
        assert [key.text for key in work.finger.keys()][0] == "Zoë-Lu" and rooms.current == "find"
        Window.dispatch("on_textinput", "q")                            # nobody: a slip
        Window.dispatch("on_key_down", 13, 40, None, [])                # Enter
        assert work.service.barista == "Zoë-Lu"


def test_the_room_is_drawn_once_with_what_was_typed_before_it_was_there_and_so_is_every_long_list(tmp_path, monkeypatch):
    built, show = [], FindScreen.show
    monkeypatch.setattr(FindScreen, "show", lambda room: built.append(room.so_far) or show(room))
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": PEOPLE}) as work:
        rooms = work.kiosk.root
        for typed in ("", "z", "#"):                                    # nobody begins with the last: a slip
            rooms.find({name: name for name in PEOPLE}, print, typed)
        assert built == ["", "z", ""]
        for name in ("orders", "tasks", "setup", "first day"):
            drawn, kind = [], type(rooms.room(name))
            monkeypatch.setattr(kind, "show", lambda room, drawn=drawn, show=kind.show: drawn.append(room.name) or show(room))
            rooms.home()
            rooms.go(name)
            assert drawn == [name]


def test_a_foot_switch_types_nothing(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": PEOPLE, "signals": {"1": {"key": "z"}}}) as work:
        work.kiosk.root.go("who")
        Window.dispatch("on_textinput", "z")
        assert work.kiosk.root.current == "who"


def test_one_of_40_drinks_is_found_with_the_order_so_far_kept(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "menu": MENU}) as work:
        work.tap("Order", "Iced Black", "Find")
        assert work.kiosk.root.current == "find"
        work.tap("O", "Oat Dust")
        assert work.kiosk.root.open.counts == {"Iced Black": 1, "Oat Dust": 1}
        Window.dispatch("on_textinput", "dus")
        work.frames(12)
        work.tap("Long Dust", "Start")
        taken, = work.book.today().of(OrderTaken)
        assert sorted(drink for drink, _count in taken.drinks) == ["Iced Black", "Long Dust", "Oat Dust"]


def test_a_person_is_found_in_setup_and_the_list_comes_back_where_it_was_left(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": PEOPLE}) as work:
        setup = work.kiosk.root.room("setup")
        work.kiosk.root.go("setup")
        setup.choose(3)
        setup.turn()
        work.frames(4)
        page = setup.page
        work.tap("Find", "Q", "Qio")
        assert setup.affects == "Staff › Qio" and "New to the job" in [row.row.name for row in setup.ids.rows.children if hasattr(row, "row")]
        work.tap("To the list")
        assert setup.page == page
