"""Between two servers: both ways over the network, or by a file for machines that never meet."""
