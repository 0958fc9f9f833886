"""What people and programs read: text and JSON. The only layer that formats; nothing is worked out here."""
