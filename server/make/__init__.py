"""Making: what is weighed, melted and cooled."""
