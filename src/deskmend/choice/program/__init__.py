"""Exact choice by integer programming, behind one wrapper of the solver."""
