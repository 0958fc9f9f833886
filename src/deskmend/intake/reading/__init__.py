"""From a file to checked texts: bounded reading, YAML trees, table cells, fields and records."""
