"""Who may come in over the network: devices that were let in once, each with a pass that the desk can take back."""
