"""The commands of `isokom`, one module for those that belong together; each says in add() what it is called and takes. Nothing heavy is loaded before a command runs."""
