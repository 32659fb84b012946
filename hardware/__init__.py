"""The outside world: bytes in, readings out. Knows nothing of coffee or screens."""
