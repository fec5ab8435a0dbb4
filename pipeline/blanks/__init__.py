"""Blank sheets for partners: workbooks with drop-down lists and checks, ready to be filled in."""
