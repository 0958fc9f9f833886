"""Tests of deskmend: one package, so that no module of it is loaded under two names."""
