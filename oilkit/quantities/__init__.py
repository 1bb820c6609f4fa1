"""What a number is: units, kinds of quantity, the check of what came, records, numbers as text."""
