"""Files that must survive: opened, written whole, kept; what is remembered from lesson to lesson."""
