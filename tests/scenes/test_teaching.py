"""A hire, and the trainer beside them, on the real screens."""

from tests.support.at_work import AtWork

STAFF = {"Ines": {}, "Tomo": {"new": True}}


def test_scene_44_the_hire_cannot_sign_alone_where_the_bar_has_a_pin(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        rooms.pin.set("4711")
        work.service.choose("Tomo")
        rooms.go("trainer")
        work.frames(5)
        assert rooms.current == "pin"
        assert work.service.teaching.signed_by("Tomo") is None


def test_a_restart_remembers_who_is_at_work(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        work.service.choose("Ines")
    with AtWork(tmp_path, scale=False) as again:
        assert again.service.barista == "Ines" and again.kiosk.root.room("station").who == "Ines"


def test_the_managers_rooms_close_after_two_minutes_without_a_touch(tmp_path):
    with AtWork(tmp_path, scale=False, settings={"groups": 1, "staff": STAFF}) as work:
        rooms = work.kiosk.root
        rooms.pin.set("4711")
        rooms.unlock("today")
        work.frames(5)
        assert rooms.current == "today"
        work.frames(round(60 / 0.05))
        work.finger.touch(1, 1)
        work.frames(round(90 / 0.05))
        assert rooms.current == "today"
        work.frames(round(40 / 0.05))
        assert rooms.current == "station"
        rooms.go("today")
        assert rooms.current == "pin"
