"""What people can be given: their plans, how plans are asked for, and the check of them."""
