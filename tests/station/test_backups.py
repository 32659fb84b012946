"""A backup a day, by itself; a stick that is gone is told, and service goes on."""

from kiosk.bar.model import Pull
from kiosk.book.backup import prove
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
