"""Kivy: draws state, sends events. Decides nothing."""
