"""The explorer in a real browser."""
