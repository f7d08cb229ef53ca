"""The bench: the main window, with the master and its renditions in tiles."""
