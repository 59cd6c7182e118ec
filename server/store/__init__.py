"""The bench book's file: connections, migrations, numbering. Knows no domain."""
