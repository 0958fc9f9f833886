"""Drawings to scale, as SVG in millimetres, and the curve of strain over money."""
