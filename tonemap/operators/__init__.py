"""The built-in operators, one file each; the host finds them here. None imports another."""
