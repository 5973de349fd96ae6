"""Delimited text and spreadsheets of any layout → tables → readings of one instrument, or typed pairs."""
