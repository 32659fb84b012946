"""What can be asked of the kiosk on a command line, one command a file."""
