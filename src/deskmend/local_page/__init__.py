"""The page on one's own machine: a server for one person that writes into one folder."""
