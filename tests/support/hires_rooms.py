"""A walk through the new hire's rooms: the practice bar through its lessons, and the trainer's record of the hire."""

from collections.abc import Iterator

from kiosk.bar.model import EVERY_STEP, Noted, Pull, Step, usual
from kiosk.bar.training import CAUSES, Cause, Mend
from tests.support.at_work import AtWork


def hires_rooms(work: AtWork) -> Iterator[str]:
    """The name of each stop, its room open; whoever walks draws the frames. Tomo is the new hire, Ines the trainer."""
    rooms, service = work.kiosk.root, work.service
    service.choose("Tomo")
    rooms.go("who")
    yield "who"
    rooms.go("practice")
    work.settle_threads()
    room = rooms.open
    room.practice.weighed = True
    yield "practice-ready"
    for cause in (Cause.CROOKED, Cause.CHANNEL, Cause.OVER):
        room.prepare(cause)
        room.begin()
        work.t_s += 0.3
        yield f"practice-begun-{cause}"
        work.t_s += 7                           # three times as fast: 21 s of the pull
        yield f"practice-pulling-{cause}"
        room.stop()
        yield f"practice-naming-{cause}"
        room.name_it(Cause.FINE)
        yield f"practice-told-{cause}"
    for part in (None, "Dose"):
        room._go_to(4, part)
        yield f"practice-mending-{part}"
    room.mend(Mend.TAKE, 3)
    yield "practice-mended"
    room.begin()
    work.t_s += 8
    room.stop()
    yield "practice-pulled-again"
    room.practice.weighed = False
    room.prepare(Cause.FINE)
    room.begin()
    work.t_s += 18
    room.stop()
    room._go_to(2, "Coffee, cup")
    yield "practice-by-eye"
    room.name_it(Cause.OVER)
    yield "practice-by-eye-told"
    service.set_setting(("lessons",), {"First week at the bar": {"faults": ["cold", "none"], "pulls": 2, "scale": "without"}})
    service.set_setting(("staff", "Tomo", "lesson"), "First week at the bar")
    rooms.go("practice")
    work.settle_threads()
    yield "practice-with-a-lesson"
    room._begin(service.setup.lesson_of("Tomo"))
    for _pull in range(2):
        room.begin()
        work.t_s += 8
        room.stop()
        room.name_it(Cause.COLD)
        yield "practice-lesson-told"
        room.next()
    yield "practice-lesson-over"
    for n in range(12):
        work.book.keep(Noted(id=work.book.new_id(), at=work.book.at(), what="practice", by="Tomo",
                             facts={"cause": str(CAUSES[n % 13]), "named": str(CAUSES[(n * 3) % 13])}))
        work.book.keep(Pull(id=work.book.new_id(), at=work.book.at(), grinder="Left", coffee="House", setting=20,
                            barista="Tomo", recipe=usual("House", "double"), dose_g=15.6 + n / 12, time_s=25.0,
                            skipped=("rim", "level", "judge"),
                            step_s=tuple((str(step), 24.0 - n) for step in EVERY_STEP)))
    rooms.go("trainer")
    work.settle_threads()
    yield "trainer"
    rooms.open.find_lesson()
    yield "trainer-lessons"
    rooms.go("trainer")
    work.settle_threads()
    rooms.open.start_watching()
    rooms.open.trained_by("Ines")
    rooms.open.tick_off(Step.DOSE)
    yield "trainer-watching"
    rooms.open._choose("Tomo")
    work.settle_threads()
    rooms.open.write_certificate()
    work.settle_threads()
    yield "trainer-certificate"
    rooms.open.start_signing()
    yield "trainer-signing"
    rooms.open.sign("Ines")
    work.settle_threads()
    yield "trainer-signed"
    rooms.open.undo()
    work.settle_threads()
