"""Sheets for the workshop: exact views, dimensions, balloons, tables and title block, on paper in mm."""
