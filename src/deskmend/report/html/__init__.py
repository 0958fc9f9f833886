"""The page to read and print, as one file of HTML."""
