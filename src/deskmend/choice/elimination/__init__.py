"""Exact choice by variable elimination, for one best assignment or the whole frontier."""
