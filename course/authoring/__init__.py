"""How lessons and handouts are made from their sources."""
