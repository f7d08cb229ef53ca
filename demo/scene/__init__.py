"""The invented workshop scene: geometry, light, lens and reference patches of the demo master."""
