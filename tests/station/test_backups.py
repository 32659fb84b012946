"""A backup a day, by itself; a stick that is gone is told, and service goes on."""

from kiosk.bar.model import Pull
from kiosk.book.backup import prove
from kiosk.station import backups
from tests.station.test_orders_through_the_kiosk import serve
from tests.support.at_work import AtWork


def backed_up(work) -> None:
    work.kiosk.mend(0)
    work.service.backing._thread.join()


def test_a_backup_is_made_once_a_day_and_holds_what_was_served(tmp_path):
    stick = tmp_path / "stick"
    stick.mkdir()
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1, "backups": str(stick)}) as work:
        serve(work, ("Latte",))
        backed_up(work)
        (made,) = stick.glob("*.zip")
        prove(made)
        work.t_s += 3600
        backed_up(work)
        assert list(stick.glob("*.zip")) == [made]
        work.t_s += 24 * 3600
        backed_up(work)
        assert len(list(stick.glob("*.zip"))) == 2


def test_a_stick_that_is_gone_is_told_and_the_next_cup_is_served(tmp_path):
    (tmp_path / "file").write_text("no folder")
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1, "backups": str(tmp_path / "file")}) as work:
        backed_up(work)
        work.service.publish()
        assert "No backup could be made" in work.kiosk.root.room("station").trouble
        _, pull = serve(work, ("Latte",))
        assert work.book.today().of(Pull) == (pull,)


def test_a_backup_folder_of_a_user_that_is_not_there_is_told_and_the_next_cup_is_served(tmp_path):
    with AtWork(tmp_path / "book", scale=False,
                settings={"groups": 1, "backups": "~nobody-of-this-name/stick"}) as work:
        backed_up(work)
        assert "No backup could be made in ~nobody-of-this-name/stick" in work.service.backing.trouble
        _, pull = serve(work, ("Latte",))
        assert work.book.today().of(Pull) == (pull,)


def test_scene_59_a_stick_that_was_put_in_is_found_with_yesterdays_backup_and_a_stray_file(tmp_path, monkeypatch):
    stick = tmp_path / "stick"
    stick.mkdir()
    monkeypatch.setattr(backups, "STICK", stick)
    monkeypatch.setattr(type(stick), "is_mount", lambda path: path == stick and mounted[0])
    mounted = [False]
    with AtWork(tmp_path / "book", scale=False, settings={"groups": 1}) as work:
        work.service.set_setting(("bar",), "The Tin Lantern")
        backed_up(work)
        assert work.service.backing.overdue is None
        work.t_s += 8 * 24 * 3600                       # a week without, told before the first pull
        backed_up(work)
        work.service.publish()
        assert "No backup for 8 days" in work.kiosk.root.room("station").trouble
        mounted[0] = True
        work.t_s += 60
        backed_up(work)
        (stick / "holiday.zip").write_text("a stray file")
        assert work.service.backing.overdue is None
        work.t_s += 24 * 3600
        backed_up(work)
        mine = [path for path in stick.glob("evenpull-*.zip") if prove(path).station == work.book.station]
        assert len(mine) == 2 and (stick / "holiday.zip").read_text() == "a stray file"
        mounted[0] = False
        work.t_s += 7 * 24 * 3600
        backed_up(work)
        assert "No backup for 7 days" in work.service.backing.overdue
