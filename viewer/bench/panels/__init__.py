"""Panels: one file a panel. They draw with imgui, read the bench, and call its actions; they see no GL."""
