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
