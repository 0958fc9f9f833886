"""Measures with intervals from a picture and its marks: camera, scene, what follows and what to doubt."""
