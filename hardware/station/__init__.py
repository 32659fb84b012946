"""What a real station needs beside the program: a service unit, a device rule, notes on wiring."""
