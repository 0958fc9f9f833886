"""What people write, read into records: every fault with file, line, value read and value allowed."""
