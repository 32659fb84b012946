"""The trade, pure: no screen, no file, no clock, no port. Only functions and frozen values."""
