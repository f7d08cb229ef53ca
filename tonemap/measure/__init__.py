"""Measurement: figures of a master, of its renditions, and of what lies between. Imports no GL and draws nothing."""
