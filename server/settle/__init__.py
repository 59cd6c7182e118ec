"""What was said differently on machines that had not heard of each other, for a person to settle. Knows the domains whose statements it compares; none knows it but exchange."""
