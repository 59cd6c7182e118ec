"""Tables of analyses as they really come: read, understood column by column, checked. Nothing is stored here."""
