"""The invented scenario; it stands on top of everything and nothing knows of it."""
