"""Wrackline's stages. Read `run.py` first: it joins them, top to bottom, and each stage is one folder here."""
