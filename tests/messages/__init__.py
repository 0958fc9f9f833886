"""Every sentence for people has a translation, and the reader's choices reach every page."""
