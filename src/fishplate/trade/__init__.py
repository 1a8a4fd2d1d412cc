"""Vehicle engineering."""
