"""The workstation: a body, the state of places, devices and tasks, and the postures that follow."""
