"""Rendering a programme: which frame gets which chain, the pipeline, and what is kept of a render that was stopped."""
