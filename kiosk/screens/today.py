"""Today: what the day came to so far."""

from kivy.clock import Clock
from kivy.lang import Builder
from kivy.properties import ListProperty, NumericProperty, ObjectProperty, StringProperty
from kivy.uix.screenmanager import Screen

from kiosk.screens.words import _


class TodayScreen(Screen):
    service = ObjectProperty()
    told = StringProperty()

    def on_pre_enter(self):
        from kiosk.bar.summary import as_text
        today = self.service.book.today()
        self.told = as_text(self.service.summary(today))


Builder.load_string("""
<TodayScreen>:
    Page:
        Words:
            text: root.told
            size_u: 17
            halign: "left"
            valign: "top"
        Key:
            text: "Back"
            kind: "next"
            size_hint_y: None
            height: 84 * look.u
            on_tap: root.manager.home()
""")
